//! The table of keys as JSON schema (draft 7), for editors that complete and check TOML.

use super::key::{Key, Kind, Need, Number, Section};
use super::keys::{PRINT_LAYER, root};
use serde_json::{Map, Value, json};

/// The schema as text.
pub fn schema() -> String {
    let mut file = object(&root::TABLE);
    // With layers, any part of what they share may stand at the top or in a layer; without, all of it must stand at the top.
    let shared = |key: &&Key| PRINT_LAYER.key(key.name).is_some() && key.name != "name";
    let parts = || root::TABLE.keys.iter().filter(shared);
    let mut layer = object(&PRINT_LAYER);
    layer.insert("required".to_owned(), json!(["name", "path"]));
    for key in parts() {
        if let Kind::Table(section) = key.kind {
            file["properties"][key.name] = without_demands(section);
            layer["properties"][key.name] = without_demands(section);
        }
    }
    file["properties"]["layer"]["items"] = Value::Object(layer);
    let required = |all: bool| -> Value {
        let keys = root::TABLE.keys.iter().filter(|key| matches!(key.need, Need::Required) && (shared(key) == all));
        keys.map(|key| key.name).collect()
    };
    let demanded: Map<String, Value> = parts().filter_map(|key| Some((key.name.to_owned(), demands(key)?))).collect();
    file.insert("required".to_owned(), required(false));
    file.insert("if".to_owned(), json!({ "required": ["layer"] }));
    file.insert("else".to_owned(), json!({ "required": required(true), "properties": demanded }));
    file.insert("$schema".to_owned(), json!("http://json-schema.org/draft-07/schema#"));
    file.insert("title".to_owned(), json!("motefall scenario"));
    let mut text = format!("{:#}", Value::Object(file));
    text.push('\n');
    text
}

fn object(section: &Section) -> Map<String, Value> {
    let required = section.keys.iter().filter(|key| matches!(key.need, Need::Required)).map(|key| key.name);
    let mut map = Map::new();
    map.insert("type".to_owned(), json!("object"));
    map.insert("description".to_owned(), json!(section.help));
    map.insert("additionalProperties".to_owned(), json!(false));
    map.insert("required".to_owned(), required.collect());
    map.insert("properties".to_owned(), section.keys.iter().map(|key| (key.name.to_owned(), property(key))).collect());
    map
}

/// A section of which any key may be left out.
fn without_demands(section: &Section) -> Value {
    let mut map = object(section);
    map.remove("required");
    Value::Object(map)
}

/// The keys that a section needs.
fn demands(key: &Key) -> Option<Value> {
    let Kind::Table(section) = key.kind else { return None };
    let keys = section.keys.iter().filter(|key| matches!(key.need, Need::Required));
    Some(json!({ "required": keys.map(|key| key.name).collect::<Vec<_>>() }))
}

fn number(spec: &Number) -> Value {
    json!({ "type": "number", "minimum": spec.least, "maximum": spec.most })
}

fn list(item: Value, fewest: usize) -> Value {
    json!({ "type": "array", "items": item, "minItems": fewest })
}

fn point(spec: &Number) -> Value {
    json!({ "type": "array", "items": number(spec), "minItems": 2, "maxItems": 2 })
}

fn property(key: &Key) -> Value {
    let mut value = match key.kind {
        Kind::Number(spec) => number(&spec),
        Kind::Numbers(spec) => list(number(&spec), 0),
        Kind::Point(spec) => point(&spec),
        Kind::Points(spec, fewest) => list(point(&spec), fewest),
        Kind::Integer(least, most) => json!({ "type": "integer", "minimum": least, "maximum": most }),
        Kind::IntegerOrAuto(least, most) => {
            json!({ "anyOf": [{ "type": "integer", "minimum": least, "maximum": most }, { "const": "auto" }] })
        }
        Kind::Text => json!({ "type": "string" }),
        Kind::Choice(words) => json!({ "enum": words }),
        Kind::Choices(words) => list(json!({ "enum": words }), 0),
        Kind::Flag => json!({ "type": "boolean" }),
        Kind::Table(section) => Value::Object(object(section)),
        Kind::Tables(section) => list(Value::Object(object(section)), 0),
        Kind::Shapes(shapes) => list(json!({ "oneOf": shapes.iter().map(object).collect::<Vec<_>>() }), 0),
    };
    value["description"] = json!(key.help);
    match key.need {
        Need::Default(v) => value["default"] = json!(v),
        Need::Assumed(v, advice) => {
            value["default"] = json!(v);
            value["description"] = json!(format!("{}. Unverified default: {advice}", key.help));
        }
        Need::Word("true") => value["default"] = json!(true),
        Need::Word("false") => value["default"] = json!(false),
        Need::Word(word) => value["default"] = json!(word),
        Need::Required | Need::Optional | Need::Follows(_) => {}
    }
    value
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_schema_carries_ranges_and_refuses_unknown_keys() {
        let schema: Value = serde_json::from_str(&schema()).expect("it is JSON");
        let nozzle = &schema["properties"]["head"]["properties"]["nozzle_um"];
        assert_eq!((nozzle["minimum"].as_f64(), nozzle["maximum"].as_f64()), (Some(10.0), Some(2000.0)));
        assert_eq!(schema["properties"]["head"]["additionalProperties"], json!(false));
        // What layers may give instead is demanded of a file without layers only.
        assert!(schema["properties"]["head"].get("required").is_none());
        assert_eq!(schema["required"], json!(["name", "chip", "map"]));
        assert!(schema["else"]["required"].as_array().is_some_and(|r| r.contains(&json!("path"))));
        assert!(
            schema["else"]["properties"]["head"]["required"]
                .as_array()
                .is_some_and(|r| r.contains(&json!("nozzle_um")))
        );
        assert_eq!(schema["properties"]["layer"]["items"]["required"], json!(["name", "path"]));
        let kinds = schema["properties"]["path"]["items"]["oneOf"].as_array().expect("one per kind");
        assert_eq!(kinds.len(), 6);
        assert!(kinds.iter().all(|kind| kind["required"].as_array().is_some_and(|r| r.contains(&json!("kind")))));
    }
}
