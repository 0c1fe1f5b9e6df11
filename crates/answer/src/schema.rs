//! The JSON Schema of every document.

use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, Schema};

use crate::*;

/// The schema of one command's document.
#[derive(Clone, Debug, PartialEq)]
pub struct AnswerSchema {
    /// The command, as it is typed.
    pub command: &'static str,
    /// The schema (JSON Schema, draft 2020-12).
    pub schema: Schema,
}

impl AnswerSchema {
    fn of<T: JsonSchema>(command: &'static str) -> Self {
        let generator = || SchemaSettings::draft2020_12().for_serialize().into_generator();
        let mut schema = generator().into_root_schema_for::<Document<T>>();
        // What is said of the answer rather than of the document around it.
        if let Some(description) = generator().into_root_schema_for::<T>().get("description") {
            schema.insert("description".to_string(), description.clone());
        }
        Self { command, schema }
    }
}

/// The schema of every command's document, in the order of the commands.
#[must_use]
pub fn schemas() -> Vec<AnswerSchema> {
    vec![
        AnswerSchema::of::<DemoAnswer>("demo"),
        AnswerSchema::of::<FrameAnswer>("frame"),
        AnswerSchema::of::<SweepAnswer>("sweep"),
        AnswerSchema::of::<CompareAnswer>("compare"),
        AnswerSchema::of::<DiagnoseAnswer>("diagnose"),
        AnswerSchema::of::<MeasureAnswer>("measure"),
        AnswerSchema::of::<CalibrateAnswer>("calibrate"),
        AnswerSchema::of::<WorkaroundsAnswer>("workaround"),
        AnswerSchema::of::<ModesAnswer>("modes"),
        AnswerSchema::of::<SignalsAnswer>("signal"),
        AnswerSchema::of::<HazardsAnswer>("hazards"),
        AnswerSchema::of::<RunAnswer>("run"),
        AnswerSchema::of::<EmitsAnswer>("emit"),
        AnswerSchema::of::<RecordAnswer>("record"),
        AnswerSchema::of::<ReportAnswer>("report"),
        AnswerSchema::of::<PackAnswer>("pack"),
        AnswerSchema::of::<UnpackAnswer>("unpack"),
        AnswerSchema::of::<WindowAnswer>("window"),
        AnswerSchema::of::<BoardsAnswer>("boards"),
        AnswerSchema::of::<BoardProfileAnswer>("boards NAME"),
        AnswerSchema::of::<QuirksAnswer>("quirks"),
        AnswerSchema::of::<QuirkAnswer>("quirks NAME"),
        AnswerSchema::of::<QuirksAnswer>("quirks check"),
        AnswerSchema::of::<BenchesAnswer>("benches"),
        AnswerSchema::of::<MonitorsAnswer>("monitors"),
        AnswerSchema::of::<ProcessorsAnswer>("processors"),
        AnswerSchema::of::<RoutinesAnswer>("routines"),
        AnswerSchema::of::<SightingsAnswer>("sightings"),
    ]
}
