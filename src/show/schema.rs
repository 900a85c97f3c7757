//! The JSON Schema of show files, from the written types themselves.

use schemars::Schema;
use schemars::generate::SchemaSettings;
use schemars::transform::{RecursiveTransform, Transform};
use serde_json::{Value, json};

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

fn without_null(schema: &mut Schema) {
    let Some(object) = schema.as_object_mut() else { return };
    if let Some(Value::Array(types)) = object.get_mut("type") {
        types.retain(|name| name != "null");
        if let [only] = types.as_slice() {
            let only = only.clone();
            object.insert("type".into(), only);
        }
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
