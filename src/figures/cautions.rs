//! Cautions in a few words, for places where the whole sentence of a print's own report has no room or no numbers.

/// The caution that stands wherever single particles are missing because too many landed.
pub const TOO_MANY_PARTICLES: &str = "too-many-particles";

/// The caution of a run that was stopped before all prints were made.
pub const STOPPED: &str = "stopped-early";

/// Identifier of each caution, and what it is about.
const WORDS: [(&str, &str); 62] = [
    ("mist-and-powder", "mist and powder can be breathed: enclosure and extraction"),
    ("nickel", "nickel compounds are carcinogenic when breathed"),
    ("cobalt", "cobalt compounds harm the lungs"),
    ("titanium-dioxide", "fine titanium dioxide is suspected of causing cancer when breathed"),
    ("carbon-black", "carbon black is possibly carcinogenic when breathed"),
    ("manganese", "manganese dust harms the nerves"),
    ("vanadium", "vanadium compounds irritate the airways"),
    ("chromium", "chromium(VI) compounds are carcinogenic when breathed"),
    ("lead", "lead compounds harm nerves, blood and the unborn child"),
    ("cadmium", "cadmium compounds are carcinogenic when breathed"),
    ("indium", "indium compounds harm the lungs"),
    ("arsenic", "arsenic compounds are carcinogenic"),
    ("nanotubes", "nanotubes and nanofibres may harm the lungs"),
    ("inert-gas", "nitrogen or argon displaces air in a closed room"),
    ("toxic-solvent", "a solvent is toxic"),
    ("warm-solvent", "a warm chip drives a harmful or flammable solvent off as vapour"),
    ("reproductive-toxicity", "a solvent may harm the unborn child"),
    ("flammable", "a solvent is flammable"),
    ("lang-range", "droplet size is estimated from the atomiser's frequency, outside the relation's range"),
    ("tube-turbulent", "flow in the mist tube may be turbulent; its losses are computed for laminar flow"),
    ("bend-range", "losses in bends are computed outside of where they were measured"),
    ("gas-range", "gas is colder or warmer than its properties are known"),
    ("slip-range", "the smallest droplets slip more than the relation covers"),
    ("drag-range", "the largest droplets are faster than the law of drag covers"),
    ("lift-range", "the largest droplets are faster than the law of lift covers"),
    ("solvent-range", "a solvent's properties are extrapolated"),
    ("vapour-range", "a vapour pressure is taken far from where it is known"),
    ("vapour-share-range", "vapour is no small share of the gas: drying is less sure"),
    (
        "room-gas-range",
        "the gas is much heavier or lighter than the air of the room, which the model of the jet does not know",
    ),
    ("beam-range", "mean free paths are taken at a voltage where they were not measured"),
    ("impact-range", "spreading on impact is taken outside of where it was measured"),
    ("drying-tolerance", "drying was followed less closely than usual"),
    ("chance-only", "prints differ by chance only: no [spread] is given"),
    ("mixed-tables", "landing points of prints with other flows or stand-off are interpolated (to 0.3 µm or 1.5 %)"),
    ("mach", "gas leaves the nozzle above Mach 0.3, where the model of the jet begins to be off"),
    ("straight-flight", "droplets fly straight down: a check, not a prediction"),
    ("jet-length", "stand-off is longer than the jet stays laminar: real lines are wider than shown"),
    ("reynolds", "jet is likely unsteady (Reynolds number above 1500): real lines are wider than shown"),
    ("lift-on", "shear lift acts: no law is known to hold here, meant for fitting"),
    ("lift-off", "shear lift is not counted: real lines may be wider or narrower"),
    ("no-sheath", "no sheath gas focuses the mist"),
    ("bounce", "dry grains may bounce off, by an assumed probability"),
    ("splash", "large droplets may splash on the chip, which is not modelled"),
    ("entrance-length", "head is short for its flow: the aerosol core may be wider than shown"),
    ("coarse-powder", "most of a powder is too coarse to ride in the droplets"),
    ("droplet-budget", "only a part of the print's droplets was simulated"),
    ("particles-not-listed", "too many particles to list"),
    (TOO_MANY_PARTICLES, "too many particles land to tell what touches what"),
    (STOPPED, "the run was stopped before all prints were made"),
    ("little-lands", "hardly any of the solids that leave the vial land"),
    ("not-followed", "some of what comes out of the nozzle is carried far away and not followed"),
    ("off-chip", "some droplets land beyond the chip's edge"),
    ("unverified-defaults", "some inputs are defaults that nobody has measured"),
    ("keep-out-unlimited", "particles land on a keep-out region that no limit covers"),
    ("bead", "lines carry more liquid than holds where it lands: they run out to wet beads"),
    ("bead-drying", "a line stays narrow only if it dries as fast as estimated"),
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
