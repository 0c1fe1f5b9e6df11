//! The file form of a session's plan: `*.plan.ron`.

use std::collections::BTreeMap;
use std::sync::Arc;

use backporch_analysis::{Conditions, Specimen, WriteMoment};
use backporch_bench::Bench;
use backporch_input::{InputError, Number, Range, Source, Version1, parse};
use serde::{Deserialize, Serialize};

use crate::experiment::Experiment;
use crate::session::{MOST_LOOKS, SessionLook, TestSession};
use crate::settings;

/// A plan as written.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlanFile {
    /// Version of the file form.
    pub version: Version1,
    /// What the session is for, for people.
    #[serde(default)]
    pub title: String,
    /// What is looked at, in order.
    pub experiments: Vec<PlannedFile>,
}

/// A setting and the steps of a register to look at.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlannedFile {
    /// What it is, for people.
    #[serde(default)]
    pub title: String,
    /// Another mode than the bench's.
    #[serde(default)]
    pub mode: Option<String>,
    /// Whether the suspected board is looked at or another one of its class.
    #[serde(default)]
    pub specimen: Specimen,
    /// Registers that differ from the bench's, by name.
    #[serde(default)]
    pub registers: BTreeMap<String, Number>,
    /// The register stepped; the start address if left out.
    #[serde(default)]
    pub over: Option<String>,
    /// Its stored values; the experiment's own if left out.
    #[serde(default)]
    pub at: Option<Range>,
    /// When in the frame the start address is written.
    #[serde(default)]
    pub moment: WriteMoment,
}

impl TestSession {
    /// Reads a plan for a bench; `in_mode` gives the bench in another mode.
    ///
    /// # Errors
    /// Names the file, line, field, what was found and what is allowed.
    pub fn from_plan(
        source: &Source,
        bench: &Arc<Bench>,
        in_mode: &dyn Fn(&str) -> Result<Arc<Bench>, InputError>,
    ) -> Result<Self, InputError> {
        let file: PlanFile = parse(source)?;
        let mut looks = Vec::new();
        for (at, planned) in file.experiments.iter().enumerate() {
            let at = at.to_string();
            let path = |field: &'static str| ["experiments", at.as_str(), field];
            let bench = match &planned.mode {
                None => Arc::clone(bench),
                Some(mode) => in_mode(mode).map_err(|error| source.at_field(&path("mode"), error))?,
            };
            let (settings, over) = settings::of_file(source, &at, &bench, &planned.registers, planned.over.as_deref())?;
            if planned.moment == WriteMoment::Routine {
                return Err(source.fault(
                    &path("moment"),
                    "Routine",
                    "ActiveArea or Retrace: a session writes by itself",
                ));
            }
            let conditions = Conditions { specimen: planned.specimen, moment: planned.moment, ..Conditions::default() };
            let experiment = Experiment { title: planned.title.clone(), bench, settings, over, conditions };
            let steps = planned.at.unwrap_or_else(|| Range::single(u64::from(experiment.own_step())));
            let max = experiment.bench.adapter().field_info(over).max();
            if steps.last() > u64::from(max) {
                return Err(source.fault(&path("at"), steps.last(), format!("0..={max}")));
            }
            for step in steps.iter() {
                if looks.len() == MOST_LOOKS {
                    let found = format!("more than {MOST_LOOKS} looks");
                    return Err(source.fault(&path("at"), found, format!("at most {MOST_LOOKS} in all")));
                }
                looks.push(SessionLook { experiment: experiment.clone(), step: step as u32 });
            }
        }
        if looks.is_empty() {
            return Err(source.fault(&["experiments"], "none", "at least one experiment"));
        }
        Ok(Self::new(file.title, bench, looks))
    }
}
