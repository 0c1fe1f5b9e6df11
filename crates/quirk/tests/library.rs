//! The built-in families as files: named like their families, and the same when written and read again.

use std::collections::BTreeSet;

use backporch_input::Source;
use backporch_quirk::Family;

#[test]
fn every_family_is_named_like_its_file() {
    for name in Family::built_in_names() {
        let family = Family::built_in(name).unwrap_or_else(|| panic!("{name} does not hold together"));
        assert_eq!(family.name(), name);
    }
}

#[test]
fn every_file_of_the_folder_is_built_in() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../quirks");
    let files = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap());
    let files: BTreeSet<String> = files.map(|name| name.trim_end_matches(".ron").to_owned()).collect();
    assert_eq!(files, Family::built_in_names().map(str::to_owned).collect());
}

#[test]
fn what_is_written_reads_back_the_same() {
    for family in Family::all_built_in() {
        let written = family.to_ron();
        let again = Family::from_source(&Source::built_in("again", written.as_str()));
        assert_eq!(again.as_ref(), Ok(&family), "{written}");
    }
}

#[test]
fn members_come_in_order_and_none_twice() {
    for family in Family::all_built_in() {
        let members: Vec<String> = family.quirks().map(|quirk| quirk.to_string()).collect();
        assert_eq!(members.len() as u64, family.count());
        assert_eq!(members.iter().collect::<BTreeSet<_>>().len(), members.len(), "{}", family.name());
        assert_eq!(members[0], family.close_default().to_string());
        for quirk in family.quirks() {
            assert_eq!(family.close(&quirk.parameters()), Ok(quirk));
        }
        assert_eq!(family.member(family.count()), None);
    }
}

#[test]
fn the_last_parameter_changes_fastest() {
    let family = Family::built_in("row-reload").unwrap();
    let members: Vec<String> = family.quirks().take(4).map(|quirk| quirk.to_string()).collect();
    let of = |rows, reloads| format!("row-reload(row_bytes: {rows}, reloads: {reloads})");
    assert_eq!(members, [of(256, 1), of(256, 2), of(256, 3), of(128, 1)]);
}

#[test]
fn no_built_in_family_warns() {
    for family in Family::all_built_in() {
        assert_eq!(family.warnings(), [""; 0], "{}", family.name());
    }
}

/// The page of the language is made from its tables.
#[test]
fn the_reference_is_up_to_date() {
    let page = include_str!("../../../docs/quirks.md");
    let (_, made) = page.split_once("-->\n").unwrap();
    assert_eq!(made, backporch_quirk::reference(), "run the example `reference` and paste what it prints");
}

#[test]
fn the_reference_tells_of_every_action() {
    let text = backporch_quirk::reference();
    for (stage, action) in backporch_quirk::actions() {
        assert!(text.contains(&format!("### {stage}\n")) && text.contains(&format!("| `{}` |", action.name)));
    }
}
