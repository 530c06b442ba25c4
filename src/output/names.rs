//! Names of files and columns, made from what users call their powders.

use motefall_figures::Prediction;
use motefall_figures::beam_view;
use ndarray::Array2;
use std::borrow::Cow;

/// A map to be written: its file stem, what it is, its unit and the factor from SI.
#[derive(Debug, Clone)]
pub(crate) struct MapFile<'a> {
    /// File name without ending, unit included.
    pub(crate) stem: String,
    /// In words.
    pub(crate) what: String,
    /// Unit in the file.
    pub(crate) unit: &'static str,
    /// Value in the file = SI value times this.
    pub(crate) factor: f64,
    /// The map, SI.
    pub(crate) map: Cow<'a, Array2<f64>>,
}

impl MapFile<'_> {
    /// Name of the array file.
    pub(crate) fn npy(&self) -> String {
        format!("{}.npy", self.stem)
    }

    /// Name of the picture.
    pub(crate) fn png(&self) -> String {
        format!("{}.png", self.stem)
    }
}

/// Every map of a prediction.
pub(crate) fn maps(p: &Prediction) -> Vec<MapFile<'_>> {
    let nanometres =
        |stem: String, what: String, map| MapFile { stem, what, unit: "nm", factor: 1e9, map: Cow::Borrowed(map) };
    let powders = p.inputs.powders();
    let mut out: Vec<MapFile<'_>> = slugs(p)
        .into_iter()
        .zip(powders)
        .zip(&p.maps.thickness)
        .map(|((slug, powder), map)| {
            nanometres(format!("thickness_{slug}_nm"), format!("projected solid thickness, {}", powder.name), map)
        })
        .collect();
    out.push(nanometres("height_nm".into(), "deposit height, solids over packing fraction".into(), &p.maps.height));
    out.push(MapFile {
        stem: "coverage".into(),
        what: "covered share of each pixel".into(),
        unit: "",
        factor: 1.0,
        map: Cow::Borrowed(&p.maps.coverage),
    });
    let paths = &p.powder_mean_free_paths();
    if let Some(depth) = beam_view::depth_map(&p.maps.thickness, paths, &p.inputs.beam) {
        out.push(MapFile {
            stem: "mean_free_paths".into(),
            what: "depth in inelastic mean free paths of the beam, all layers together".into(),
            unit: "lambda",
            factor: 1.0,
            map: Cow::Owned(depth),
        });
    }
    if let Some(top) = &p.maps.top_height {
        out.push(nanometres("top_height_nm".into(), "highest point of the stacked particles".into(), top));
    }
    out
}

/// One name per powder that is safe in file names and column heads, no two alike.
pub(crate) fn slugs(p: &Prediction) -> Vec<String> {
    let mut out: Vec<String> = vec![];
    for powder in p.inputs.powders() {
        let plain = slug(&powder.name);
        let mut candidate = plain.clone();
        let mut number = 2;
        while out.iter().any(|o| o.eq_ignore_ascii_case(&candidate)) {
            candidate = format!("{plain}_{number}");
            number += 1;
        }
        out.push(candidate);
    }
    out
}

/// Letters and digits of ASCII, anything else becomes one underscore; at most 40 characters.
fn slug(name: &str) -> String {
    let mut out = String::new();
    for c in name.chars() {
        if out.len() >= 40 {
            break;
        }
        if c.is_ascii_alphanumeric() {
            out.push(c);
        } else if !out.is_empty() && !out.ends_with('_') {
            out.push('_');
        }
    }
    let out = out.trim_end_matches('_');
    if out.is_empty() { "powder".into() } else { out.into() }
}

#[cfg(test)]
mod tests {
    use super::slug;

    #[test]
    fn no_path_leaves_the_folder() {
        assert_eq!(slug("../../etc/passwd"), "etc_passwd");
        assert_eq!(slug("Na₃V₂(PO₄)₃ / C"), "Na_V_PO_C");
        assert_eq!(slug("碳"), "powder");
        assert_eq!(slug("a\0b\n c:d"), "a_b_c_d");
        assert!(slug(&"x".repeat(500)).len() <= 40);
    }
}
