//! The JSON Schema of show files, from the written types themselves.

use schemars::generate::SchemaSettings;
use schemars::transform::{RecursiveTransform, Transform};
use schemars::{JsonSchema, Schema};
use serde_json::{Value, json};

use super::access::AccessFile;
use super::written::{CueFile, RigFile, ShowFile};

/// One JSON Schema (draft 2020-12) for the three kinds of files, each under `$defs`: `ShowFile` for show.toml,
/// `RigFile` for rigs/NAME.toml, `CueFile` for cues/*.toml. A whole document is valid if it is any of them.
pub fn schema() -> Value {
    let mut generator = SchemaSettings::draft2020_12().into_generator();
    let files = [
        generator.subschema_for::<ShowFile>(),
        generator.subschema_for::<RigFile>(),
        generator.subschema_for::<CueFile>(),
    ];
    let mut schema = schemars::json_schema!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Files of a bellwire show",
        "description": "show.toml, rigs/NAME.toml and cues/*.toml, as TOML read into JSON.",
        "anyOf": files,
        "$defs": generator.take_definitions(true),
    });
    // TOML has no null: a key that is optional is left out.
    RecursiveTransform(without_null).transform(&mut schema);
    schema.to_value()
}

/// The JSON Schema of access.toml, with an example.
pub fn access_schema() -> Value {
    let mut schema = schema_of::<AccessFile>();
    schema["examples"] = json!([{
        "trust_loopback": true,
        "hosts": ["bellwire.local"],
        "token": [{
            "name": "prompt tablet",
            "role": "operator",
            "hash": "sha256:66687aadf862bd776c8fc18b8e9f8e20089714856ee233b3902a591d0d5f2925",
        }],
        "sender": [{ "name": "desk", "address": "10.0.0.7", "role": "caller" }],
        "limits": { "clients": 128, "connections": 16, "requests": 500 },
    }]);
    schema
}

/// The JSON Schema (draft 2020-12) of a file that is no part of a show folder.
pub(crate) fn schema_of<T: JsonSchema>() -> Value {
    let mut schema = SchemaSettings::draft2020_12().into_generator().into_root_schema_for::<T>();
    RecursiveTransform(without_null).transform(&mut schema);
    schema.to_value()
}

fn without_null(schema: &mut Schema) {
    let Some(object) = schema.as_object_mut() else { return };
    if let Some(Value::Array(types)) = object.get_mut("type") {
        types.retain(|name| name != "null");
        if let [only] = types.as_slice() {
            let only = only.clone();
            object.insert("type".into(), only);
        }
    }
    if let Some(Value::Array(words)) = object.get_mut("enum") {
        words.retain(|word| !word.is_null());
    }
    if let Some(Value::Array(choices)) = object.get_mut("anyOf") {
        choices.retain(|choice| *choice != json!({ "type": "null" }));
        if let [Value::Object(only)] = choices.as_slice() {
            let only = only.clone();
            object.remove("anyOf");
            object.extend(only);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every object of the schema that describes a table with known keys.
    fn tables(value: &Value) -> Vec<&Value> {
        let inside: Vec<&Value> = match value {
            Value::Object(object) => object.values().flat_map(tables).collect(),
            Value::Array(items) => items.iter().flat_map(tables).collect(),
            Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => Vec::new(),
        };
        let own = value.get("properties").is_some_and(Value::is_object).then_some(value);
        own.into_iter().chain(inside).collect()
    }

    #[test]
    fn every_table_refuses_unknown_keys_and_explains_the_known() {
        let (show, access) = (schema(), access_schema());
        assert!(tables(&show).len() > 25 && tables(&access).len() == 4);
        for table in tables(&show).into_iter().chain(tables(&access)) {
            assert_eq!(table["additionalProperties"], false, "{table}");
            for (key, meaning) in table["properties"].as_object().unwrap() {
                assert!(meaning.get("description").is_some(), "{key} is not explained");
            }
        }
    }

    #[test]
    fn required_is_what_the_reader_requires_and_null_is_nowhere() {
        let schema = schema();
        let required = |table: &str| schema["$defs"][table]["required"].clone();
        assert_eq!(required("ShowFile"), json!(["show"]));
        assert_eq!(required("Settings"), json!(["name", "margin", "react"]));
        assert_eq!(required("RigFile"), json!(["kind", "at", "axis"]));
        assert_eq!(required("Axis"), json!(["name", "unit", "travel", "start", "speed", "acceleration", "jerk"]));
        assert_eq!(required("CueFile"), Value::Null);
        assert_eq!(required("Cue"), json!(["number", "name", "move"]));
        assert_eq!(required("Move"), json!(["rig"]));
        assert!(!schema.to_string().contains("null"), "{schema:#}");
    }
}
