//! What was found, as files that every command takes: a processor model and an adapter profile.

use backporch_adapter::{MemoryBus, StartLoad};
use backporch_input::{quoted, spelling};
use backporch_pc::clocks::bus_cycle;
use backporch_processor_timing::Model;

use crate::processor::SurveyedProcessor;

/// A processor model (RON).
pub(crate) fn processor(name: &str, processor: &SurveyedProcessor, clock: (u64, u64)) -> String {
    let model = processor.model;
    let bits = if model == Model::P8088 { 8 } else { 16 };
    let megahertz = processor.clock_hz.0 / 1e6;
    let mut text = String::from("// A processor as a survey found it.\n(\n    version: 1,\n");
    text += &format!("    name: {},\n", quoted(name));
    text += &format!("    title: {},\n", quoted(&format!("{} at {megahertz:.3} MHz, as surveyed", model.name())));
    text += &format!(
        "    facts: [\n        (says: \"A survey of the machine found {:.0} Hz, off by at most {:.0} Hz.\", basis: Derived),\n    ],\n",
        processor.clock_hz.0, processor.clock_hz.1
    );
    text += &format!("    clock: (crystal_hz: {}, divide: {}),\n", clock.0, clock.1);
    text += &format!(
        "    bus: (bits: {bits}, cycle: {}, memory_wait: {}, port_wait: {}),\n",
        bus_cycle(model),
        processor.waits.memory,
        processor.waits.port
    );
    text += &format!("    refresh_beats: {},\n", processor.waits.refresh_beats);
    text + &format!("    clocks: Published({}),\n)\n", quoted(model.name()))
}

/// What an adapter profile has otherwise than the one it is based on.
#[derive(Clone, Debug, Default)]
pub(crate) struct ProfileOverrides {
    pub bus: Option<MemoryBus>,
    pub dot_clock: Option<f64>,
    /// One for each of the class, where it has several.
    pub dot_clocks: Option<Vec<f64>>,
    pub memory_bytes: Option<u32>,
    pub start_load: Option<StartLoad>,
}

/// An adapter profile based on another (RON).
pub(crate) fn adapter(name: &str, based_on: &str, found: &ProfileOverrides) -> String {
    let mut text = String::from("// A board as a survey found it.\n(\n    version: 1,\n");
    text += &format!("    name: {},\n", quoted(name));
    text += &format!("    title: {},\n", quoted(&format!("{based_on}, as surveyed")));
    text += &format!("    based_on: {},\n", quoted(based_on));
    text += "    facts: [\n        (says: \"What stands here was found by a survey of the machine.\", basis: Derived),\n    ],\n";
    if let Some(clock) = found.dot_clock {
        text += &format!("    dot_clock_hz: Some({clock:.1}),\n");
    }
    if let Some(clocks) = &found.dot_clocks {
        let clocks: Vec<String> = clocks.iter().map(|clock| format!("{clock:.1}")).collect();
        text += &format!("    dot_clocks_hz: Some([{}]),\n", clocks.join(", "));
    }
    if let Some(bytes) = found.memory_bytes {
        text += &format!("    memory_bytes: Some({bytes}),\n");
    }
    if let Some(load) = found.start_load {
        text += &format!("    start_load: Some({}),\n", spelling(&load));
    }
    if let Some(bus) = found.bus {
        let spaced = spelling(&bus).replace(':', ": ").replace(',', ", ");
        text += &format!("    bus: Some({spaced}),\n");
    }
    text + ")\n"
}
