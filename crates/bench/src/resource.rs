//! Everything a bench names, in one description: used to load, to pack, to watch and to guess what was meant.

use std::fs;
use std::path::{Path, PathBuf};

use backporch_adapter::ADAPTERS;
use backporch_input::{InputError, InputErrorKind, Source, file_on_disk, is_in_case, leads_outside};
use backporch_quirk::Family;
use backporch_script::{PROCESSORS, ROUTINES};
use backporch_signal::MONITORS;

use crate::bench::Overrides;
use crate::built_in::PROGRAMS;
use crate::file::{BenchFile, MachineRef, OverlayRef};
use crate::library::Library;

/// The picture that is part of this program.
pub(crate) const BUILT_IN_PICTURE: &str = "harbour";

/// What a bench may name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ResourceKind {
    /// An adapter profile.
    Adapter,
    /// A quirk.
    Quirk,
    /// A picture.
    Picture,
    /// A picture laid over it.
    Overlay,
    /// A character set of a text laid over it.
    Font,
    /// A raw memory image.
    Memory,
    /// A routine script, a write trace or a real-mode program.
    Routine,
    /// A processor model.
    Processor,
    /// The folder whose files a program may read.
    Folder,
    /// A monitor.
    Monitor,
}

impl ResourceKind {
    /// Names of what is built in of this kind; such a name never stands for a file.
    #[must_use]
    pub fn built_in(self) -> Vec<&'static str> {
        match self {
            Self::Adapter => ADAPTERS.names().collect(),
            Self::Quirk => Family::built_in_names().collect(),
            Self::Picture | Self::Overlay => vec![BUILT_IN_PICTURE],
            Self::Routine => ROUTINES.names().chain(PROGRAMS.names()).collect(),
            Self::Processor => PROCESSORS.names().collect(),
            Self::Monitor => MONITORS.names().collect(),
            Self::Font | Self::Memory | Self::Folder => Vec::new(),
        }
    }

    /// Whether that name is built in.
    #[must_use]
    pub fn is_built_in(self, name: &str) -> bool {
        self.built_in().contains(&name)
    }
}

/// One thing that a bench names, or the command line in its place.
#[derive(Clone, Debug)]
pub struct Resource {
    /// What it is.
    pub kind: ResourceKind,
    /// Its name, or the path of a file.
    pub name: String,
    /// Where a path is taken from.
    pub library: Library,
    /// Fields of the bench file that lead to it; none where the command line named it.
    pub field: Option<Vec<String>>,
}

impl Resource {
    /// The file it lies in; none where it is built in.
    #[must_use]
    pub fn path(&self) -> Option<PathBuf> {
        (!self.kind.is_built_in(&self.name)).then(|| self.library.path(&self.name))
    }

    /// Whether it lies outside the folder of the bench file that names it.
    ///
    /// What the command line names is never outside: whoever typed it asked for it.
    #[must_use]
    pub fn is_outside(&self) -> bool {
        let (Some(path), Some(_)) = (self.path(), &self.field) else { return false };
        leads_outside(self.library.folder(), &path)
    }

    /// Refuses what lies outside the bench's folder, as this does, and under none of the `allowed` paths.
    pub(crate) fn check_outside(&self, source: &Source, allowed: &[PathBuf]) -> Result<(), InputError> {
        let (Some(path), Some(field)) = (self.path(), &self.field) else { return Ok(()) };
        let field: Vec<&str> = field.iter().map(String::as_str).collect();
        if is_in_case(self.library.folder()) {
            let found = format!("{}, outside the case", self.name);
            let error = source.fault(&field, found, "what is built in, or a file in the case");
            return Err(error.of_kind(InputErrorKind::Unreadable));
        }
        let real = fs::canonicalize(file_on_disk(&path)).unwrap_or_default();
        if is_under(&path, allowed) {
            return Ok(());
        }
        let found = format!("{}, outside the bench's folder", self.name);
        let error = source.fault(&field, found, "what is built in, or a file in the bench's own folder");
        let help = format!("--allow {} lets the bench read it", real.display());
        Err(error.of_kind(InputErrorKind::Unreadable).with_help(help))
    }
}

/// Whether a path leads into one of several files or folders, links followed.
pub(crate) fn is_under(path: &Path, folders: &[PathBuf]) -> bool {
    let Ok(real) = fs::canonicalize(file_on_disk(path)) else { return false };
    folders.iter().filter_map(|folder| fs::canonicalize(folder).ok()).any(|folder| real.starts_with(folder))
}

/// What an overlay names.
fn overlay_kind(overlay: &OverlayRef) -> ResourceKind {
    match overlay {
        OverlayRef::Picture { .. } => ResourceKind::Overlay,
        OverlayRef::Text { .. } => ResourceKind::Font,
    }
}

/// Gathers what is named, the command line's word before the file's.
struct Naming<'a> {
    beside: &'a Library,
    resources: Vec<Resource>,
}

impl Naming<'_> {
    fn add(&mut self, kind: ResourceKind, overriding: Option<&str>, written: Option<&str>, field: &[&str]) {
        let of_file = || Some(field.iter().map(|step| (*step).to_string()).collect());
        let resource = match (overriding, written) {
            (Some(name), _) => Resource { kind, name: name.to_string(), library: Library::default(), field: None },
            (None, Some(name)) => {
                Resource { kind, name: name.to_string(), library: self.beside.clone(), field: of_file() }
            }
            (None, None) => return,
        };
        self.resources.push(resource);
    }
}

impl BenchFile {
    /// Everything that this bench names with what `overrides` lay over it; paths in the file are taken from `beside`,
    /// those of the command line from the working folder.
    #[must_use]
    pub fn resources(&self, beside: &Library, overrides: &Overrides) -> Vec<Resource> {
        // Every field has to be thought of here.
        let Self {
            version: _,
            title: _,
            adapter,
            mode: _,
            registers: _,
            plain: _,
            quirks,
            picture,
            overlays,
            memory,
            routine,
            cpu,
            machine: MachineRef { processor: _, clock: _, folder, tail: _, keys: _, mouse: _ },
            monitor,
            seed: _,
        } = self;
        let Overrides {
            board,
            mode: _,
            plain: _,
            no_quirks,
            quirks: added,
            set: _,
            start: _,
            picture: other_picture,
            monitor: other_monitor,
            routine: other_routine,
            cpu: other_cpu,
            allow: _,
        } = overrides;
        let mut naming = Naming { beside, resources: Vec::new() };
        // A bench on another board still means its registers as those of its own.
        naming.add(ResourceKind::Adapter, None, Some(adapter), &["adapter"]);
        naming.add(ResourceKind::Adapter, board.as_deref(), None, &[]);
        let of_file = if *no_quirks { &[] } else { quirks.as_slice() };
        for (at, quirk) in of_file.iter().enumerate() {
            naming.add(ResourceKind::Quirk, None, Some(&quirk.name), &["quirks", &at.to_string(), "name"]);
        }
        added.iter().for_each(|name| naming.add(ResourceKind::Quirk, Some(name), None, &[]));
        let typed = other_picture.as_ref().map(|path| path.to_string_lossy());
        let written = picture.as_ref().map(|picture| picture.source.as_str());
        naming.add(ResourceKind::Picture, typed.as_deref(), written, &["picture", "source"]);
        for (at, overlay) in overlays.iter().enumerate() {
            let Some((field, name)) = overlay.named() else { continue };
            naming.add(overlay_kind(overlay), None, Some(name), &["overlays", &at.to_string(), field]);
        }
        naming.add(ResourceKind::Memory, None, memory.as_deref(), &["memory"]);
        naming.add(ResourceKind::Routine, other_routine.as_deref(), routine.as_deref(), &["routine"]);
        naming.add(ResourceKind::Processor, other_cpu.as_deref(), cpu.as_deref(), &["cpu"]);
        naming.add(ResourceKind::Folder, None, folder.as_deref(), &["machine", "folder"]);
        naming.add(ResourceKind::Monitor, other_monitor.as_deref(), monitor.as_deref(), &["monitor"]);
        naming.resources
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Bench;

    /// A folder with a bench in `inner`, and files beside `inner`.
    fn case(text: &str) -> (tempfile::TempDir, String) {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("inner")).unwrap();
        fs::write(folder.path().join("secret"), b"secret").unwrap();
        let path = folder.path().join("inner/mine.bench.ron");
        fs::write(&path, text).unwrap();
        (folder, path.display().to_string())
    }

    #[test]
    fn a_bench_reads_from_its_own_folder() {
        for field in ["memory: \"../secret\"", "routine: \"../secret\"", "machine: (folder: \"..\")"] {
            let (folder, bench) = case(&format!("(version: 1, adapter: \"linear-256\", {field})"));
            let error = Bench::open(&bench, &Overrides::default()).unwrap_err();
            assert!(error.found().ends_with("outside the bench's folder"), "{error}");
            assert!(error.help().is_some_and(|help| help.starts_with("--allow ")), "{error}");
            assert_eq!(error.line(), Some(1));
            let allow = vec![folder.path().to_path_buf()];
            let bench = Bench::open(&bench, &Overrides { allow, ..Overrides::default() }).unwrap();
            assert!(bench.notes().iter().any(|note| note.contains("outside")), "{:?}", bench.notes());
        }
    }

    #[cfg(unix)]
    #[test]
    fn a_link_leads_out_of_the_folder_as_well() {
        let (folder, bench) = case("(version: 1, adapter: \"linear-256\", memory: \"link\")");
        std::os::unix::fs::symlink(folder.path().join("secret"), folder.path().join("inner/link")).unwrap();
        assert!(Bench::open(&bench, &Overrides::default()).is_err());
        fs::remove_file(folder.path().join("inner/link")).unwrap();
        fs::write(folder.path().join("inner/link"), b"own").unwrap();
        Bench::open(&bench, &Overrides::default()).unwrap();
    }
}
