//! The schemas of what is printed as JSON.

use serde_json::Value;
use std::path::{Path, PathBuf};

pub fn schema_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/schema")
}

/// The schema of a check.
pub fn schema() -> jsonschema::Validator {
    schema_of("check")
}

/// The schema of this name.
pub fn schema_of(name: &str) -> jsonschema::Validator {
    let file = schema_folder().join(format!("{name}.schema.json"));
    let text = std::fs::read_to_string(file).expect("a schema");
    let schema: Value = serde_json::from_str(&text).expect("JSON");
    jsonschema::meta::validate(&schema).expect("a schema of draft 2020-12");
    jsonschema::validator_for(&schema).expect("a schema")
}

pub fn assert_valid(schema: &jsonschema::Validator, json: &Value) {
    let errors: Vec<String> = schema
        .iter_errors(json)
        .map(|error| format!("{} at {}", error, error.instance_path()))
        .collect();
    assert!(errors.is_empty(), "{errors:?}");
}
