//! Cautions in a few words, for places where the whole sentence of a print's own report has no room or no numbers.

/// Identifier of each caution, and what it is about.
const WORDS: [(&str, &str); 35] = [
    ("mist-and-powder", "mist and powder can be breathed: enclosure and extraction"),
    ("nickel", "nickel compounds are carcinogenic when breathed"),
    ("cobalt", "cobalt compounds harm the lungs"),
    ("titanium-dioxide", "fine titanium dioxide is suspected of causing cancer when breathed"),
    ("carbon-black", "carbon black is possibly carcinogenic when breathed"),
    ("reproductive-toxicity", "a solvent may harm the unborn child"),
    ("flammable", "a solvent is flammable"),
    ("lang-range", "droplet size is estimated from the atomiser's frequency, outside the relation's range"),
    ("tube-turbulent", "flow in the mist tube may be turbulent; its losses are computed for laminar flow"),
    ("drying-tolerance", "drying was followed less closely than usual"),
    ("chance-only", "prints differ by chance only: no [spread] is given"),
    ("mixed-tables", "landing points of prints with other flows or stand-off are interpolated (to 0.3 µm or 1.5 %)"),
    ("mach", "gas leaves the nozzle above Mach 0.3, where the model of the jet begins to be off"),
    ("straight-flight", "droplets fly straight down: a check, not a prediction"),
    ("jet-length", "stand-off is longer than the jet stays laminar: real lines are wider than shown"),
    ("reynolds", "jet is likely unsteady (Reynolds number above 1500): real lines are wider than shown"),
    ("lift-on", "shear lift acts: narrows lines strongly, meant for fitting"),
    ("lift-off", "shear lift is not counted: real lines may be narrower"),
    ("no-sheath", "no sheath gas focuses the mist"),
    ("bounce", "dry grains may bounce off, by an assumed probability"),
    ("splash", "large droplets may splash on the chip, which is not modelled"),
    ("entrance-length", "head is short for its flow: the aerosol core may be wider than shown"),
    ("coarse-powder", "most of a powder is too coarse to ride in the droplets"),
    ("droplet-budget", "only a part of the print's droplets was simulated"),
    ("particles-not-listed", "too many particles to list"),
    ("off-chip", "some droplets land beyond the chip's edge"),
    ("unverified-defaults", "some inputs are defaults that nobody has measured"),
    ("keep-out-unlimited", "particles land on a keep-out region that no limit covers"),
    ("bead", "lines carry more liquid than their width holds: they run out to wet beads"),
    ("strokes-outside", "much of what is printed lies outside of the shape to be filled"),
    ("too-few-prints", "too few prints to tell whether a limit on a probability is met"),
    ("bridge", "conducting particles may join two electrodes"),
    ("few-particles", "so few active particles that each responds on its own"),
    ("not-joined", "a part of the active particles touches no electrode"),
    ("no-membrane", "no membrane is given for the beam"),
];

/// What a caution is about, in a few words.
pub fn words(id: &str) -> Option<&'static str> {
    WORDS.iter().find(|(known, _)| *known == id).map(|(_, words)| *words)
}
