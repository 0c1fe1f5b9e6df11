//! Sightings written: their file as a text to keep or pass on.

use backporch_analysis::{PictureLayout, Specimen, WhichFrame, WriteMoment};
use backporch_input::quoted;

use crate::file::{ExperimentFile, SightingFile, SightingsFile};

impl SightingsFile {
    /// The file's text: every field that says something, a sighting a line.
    #[must_use]
    pub fn to_text(&self) -> String {
        // Every field has to be thought of here.
        let Self { version: _, title, bench, observer_errors, experiments } = self;
        let mut text = format!("(\n    version: 1,\n    title: {},\n    bench: {},\n", quoted(title), quoted(bench));
        if let Some(errors) = observer_errors {
            text += &format!("    observer_errors: {errors},\n");
        }
        text += "    experiments: [\n";
        experiments.iter().for_each(|experiment| text += &experiment.to_text());
        text + "    ],\n)\n"
    }
}

impl ExperimentFile {
    fn to_text(&self) -> String {
        let Self { title, board, mode, card, specimen, registers, over, moment, look, picture, seen } = self;
        let mut text = String::from("        (\n");
        let mut line = |field: &str, value: Option<String>| {
            if let Some(value) = value {
                text += &format!("            {field}: {value},\n");
            }
        };
        let some = |value: &Option<String>| value.as_ref().map(|value| quoted(value));
        line("title", Some(quoted(title)).filter(|_| !title.is_empty()));
        line("board", some(board));
        line("mode", some(mode));
        line("card", card.then(|| "true".to_string()));
        line("specimen", specimen_word(*specimen).map(str::to_string));
        let listed: Vec<String> = registers.iter().map(|(name, value)| format!("{}: {value}", quoted(name))).collect();
        line("registers", Some(format!("{{{}}}", listed.join(", "))).filter(|_| !listed.is_empty()));
        line("over", some(over));
        line("moment", moment_word(*moment).map(str::to_string));
        line("look", look_word(*look).map(str::to_string));
        line("picture", layout_word(*picture).map(str::to_string));
        text += "            seen: [\n";
        seen.iter().for_each(|sighting| text += &sighting.to_text());
        text + "            ],\n        ),\n"
    }
}

impl SightingFile {
    fn to_text(&self) -> String {
        let saw = quoted(&self.saw);
        match self.at {
            None => format!("                (saw: {saw}),\n"),
            Some(at) if at.len() == 1 => format!("                (at: {at}, saw: {saw}),\n"),
            Some(at) => format!("                (at: {}, saw: {saw}),\n", quoted(&at.to_string())),
        }
    }
}

/// The word of the file form; none of what is meant where nothing is said.
fn specimen_word(specimen: Specimen) -> Option<&'static str> {
    match specimen {
        Specimen::Suspected => None,
        Specimen::Another => Some("Another"),
    }
}

fn moment_word(moment: WriteMoment) -> Option<&'static str> {
    match moment {
        WriteMoment::ActiveArea => None,
        WriteMoment::Retrace => Some("Retrace"),
        WriteMoment::Routine => Some("Routine"),
    }
}

fn look_word(look: WhichFrame) -> Option<&'static str> {
    match look {
        WhichFrame::Settled => None,
        WhichFrame::Moving => Some("Moving"),
    }
}

fn layout_word(picture: PictureLayout) -> Option<&'static str> {
    match picture {
        PictureLayout::Again => None,
        PictureLayout::Once => Some("Once"),
    }
}

#[cfg(test)]
mod tests {
    use backporch_input::{Source, parse};

    use super::*;
    use crate::SIGHTINGS;

    fn again(file: &SightingsFile) -> SightingsFile {
        parse(&Source::built_in("written", file.to_text())).unwrap()
    }

    #[test]
    fn what_is_written_is_read_as_it_was() {
        for source in SIGHTINGS.sources() {
            let file: SightingsFile = parse(&source).unwrap();
            assert_eq!(again(&file), file);
        }
    }

    #[test]
    fn no_field_is_lost() {
        let text = "(version: 1, title: \"a \\\"b\\\"\", bench: \"c\", observer_errors: Some(0.25), experiments: [\
                    (title: \"d\", board: Some(\"e\"), mode: Some(\"f\"), specimen: Another, registers: {\"g\": 7}, \
                    over: Some(\"h\"), moment: Routine, look: Moving, picture: Once, \
                    seen: [(saw: \"i\"), (at: 3, saw: \"j\"), (at: \"4..=12/4\", saw: \"k\")]), \
                    (moment: Retrace, seen: [])])";
        let file: SightingsFile = parse(&Source::built_in("all fields", text.to_string())).unwrap();
        assert_eq!(again(&file), file);
    }
}
