//! Files handed along with a bench: what each holds is recognised from the file itself, and checked before it is packed.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use anyhow::Result;
use backporch_adapter::ADAPTERS;
use backporch_bench::{BENCHES, Bench, Handed, Overrides, bench_name, case_of_bench, place_of_handed};
use backporch_evidence::survey::Survey;
use backporch_evidence::{Answers, Sightings, SightingsFile};
use backporch_input::{
    FileOfCase, Holds, InputError, MOST_CASE_FILE_BYTES, Source, file_beside, leads_outside, parse, quoted, read_bytes,
};

/// How the names of files of sightings end.
const SIGHTINGS_ENDING: &str = ".sightings.ron";

/// What is handed along, and with which bench.
pub struct Handing<'a> {
    pub name: &'a str,
    pub overrides: &'a Overrides,
}

impl Handing<'_> {
    /// The file at a path as it goes into the pack, with the boards that sightings name beside themselves.
    pub fn of(&self, path: &Path) -> Result<Vec<Handed>> {
        let bytes = read_bytes(path, MOST_CASE_FILE_BYTES)?;
        let place = place_of_handed(self.name, path);
        let begins = |word: &str| bytes.starts_with(word.as_bytes());
        let mut beside = Vec::new();
        let (holds, bytes) = if place.ends_with(SIGHTINGS_ENDING) {
            let text = self.sightings(path, &place, &mut beside)?;
            (Holds::Sightings, text.into_bytes())
        } else if begins("backporch answers ") {
            self.check_answers(path)?;
            (Holds::Answers, bytes)
        } else if begins("backporch survey ") {
            Survey::from_source(&Source::read(path)?)?;
            (Holds::Survey, bytes)
        } else {
            (Holds::Other, bytes)
        };
        let file = FileOfCase { name: place, holds, bytes };
        beside.insert(0, Handed { path: path.to_owned(), file });
        Ok(beside)
    }

    fn check_answers(&self, path: &Path) -> Result<(), InputError> {
        let without = |mode: Option<&str>| {
            let mode = mode.map(str::to_string).or_else(|| self.overrides.mode.clone());
            let overrides = Overrides { no_quirks: true, mode, ..self.overrides.clone() };
            Bench::open(self.name, &overrides).map(Arc::new)
        };
        Answers::from_source(&Source::read(path)?, &without(None)?, &|mode| without(Some(mode))).map(|_| ())
    }

    /// Sightings as they go into the pack: of the bench as it is named there.
    fn sightings(&self, path: &Path, place: &str, beside: &mut Vec<Handed>) -> Result<String> {
        Sightings::open(&path.to_string_lossy())?;
        let source = Source::read(path)?;
        let mut file: SightingsFile = parse(&source)?;
        let folder = path.parent().unwrap_or(Path::new(""));
        let (above, _) = place.rsplit_once('/').unwrap_or(("", place));
        for (at, board) in file.experiments.iter().enumerate().filter_map(|(at, one)| Some((at, one.board.as_ref()?))) {
            if ADAPTERS.contains(board) {
                continue;
            }
            let path = file_beside(folder, board);
            if leads_outside(folder, &path) || Path::new(board).is_absolute() || board.contains("..") {
                let field = ["experiments", &at.to_string(), "board"];
                return Err(source.fault(&field, board, "what is built in, or a profile beside the sightings").into());
            }
            let name = if above.is_empty() { board.clone() } else { format!("{above}/{board}") };
            let bytes = read_bytes(&path, MOST_CASE_FILE_BYTES)?;
            beside.push(Handed { path, file: FileOfCase { name, holds: Holds::Other, bytes } });
        }
        if !self.is_of_bench(&file.bench, folder)? {
            let allowed = format!("{}, the bench that is packed", self.name);
            return Err(source.fault(&["bench"], &file.bench, allowed).into());
        }
        if BENCHES.contains(&file.bench) {
            return Ok(source.text().to_string());
        }
        if self.changes_registers() {
            let allowed = "a bench packed as its file has it: without --board, --mode, --plain and --set";
            return Err(source.fault(&["bench"], format!("sightings of {}", file.bench), allowed).into());
        }
        // From the folder of the sightings up to that of the bench.
        let up = "../".repeat(above.split('/').filter(|part| !part.is_empty()).count());
        let bench = format!("{up}{}", bench_name(self.name)?);
        if file.bench == bench {
            return Ok(source.text().to_string());
        }
        // The writer's own words stay where the name can be found in them.
        let old = quoted(&file.bench);
        if source.text().matches(&old).count() == 1 {
            return Ok(source.text().replacen(&old, &quoted(&bench), 1));
        }
        file.bench = bench;
        Ok(file.to_text())
    }

    /// Whether sightings in a folder that name a bench are of the one that is packed.
    fn is_of_bench(&self, named: &str, folder: &Path) -> Result<bool, InputError> {
        if BENCHES.contains(named) || BENCHES.contains(self.name) {
            return Ok(named == self.name);
        }
        let real = |path: &Path| fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
        let named = real(&file_beside(folder, named));
        let inner = case_of_bench(self.name)?.map(|case| case.bench());
        let own = [Some(PathBuf::from(self.name)), inner];
        Ok(own.into_iter().flatten().any(|own| real(&own) == named))
    }

    /// Whether the bench is packed with other registers than its file sets.
    fn changes_registers(&self) -> bool {
        let Overrides { board, mode, plain, set, start, .. } = self.overrides;
        board.is_some() || mode.is_some() || *plain || !set.is_empty() || start.is_some()
    }
}
