//! Why boards together come to a blame, in words.

use super::blame::{Blame, ClassBehaviour};
use super::entry::Entry;
use crate::signature::Nature;

/// Why the boards together come to this.
pub(super) fn reason(entries: &[Entry], blame: Blame) -> String {
    let blamed: Vec<&Entry> = entries.iter().filter(|entry| entry.blame == blame).collect();
    let labels = blamed.iter().map(|entry| entry.contender.label.as_str()).collect::<Vec<_>>().join("; ");
    match blame {
        Blame::None => "every board shows what was meant".to_string(),
        Blame::Class => of_class(&blamed),
        Blame::Adapter => {
            let how = blamed.iter().find_map(|entry| entry.beyond_design).map_or("", how);
            let class = by_design(&blamed);
            if class.is_empty() {
                format!("a healthy board of the class shows what was meant, {labels} does not: {how}")
            } else {
                format!("{labels} does more than its class does by design: {how}; by design besides, {class}")
            }
        }
        Blame::Timing | Blame::Code if blamed.iter().any(|entry| entry.mistake.is_some()) => {
            let mistakes = blamed.iter().filter_map(|entry| Some((&entry.contender.label, entry.mistake.as_ref()?)));
            mistakes.map(|(label, mistake)| format!("{label}: {mistake}")).collect::<Vec<_>>().join("; ")
        }
        Blame::Timing => format!("at another moment of the writes a plain board shows what was meant: {labels}"),
        Blame::Code => format!("whatever the moment, even a plain board shows something else: {labels}"),
    }
}

fn of_class(blamed: &[&Entry]) -> String {
    let class = by_design(blamed);
    let cannot = blamed.iter().filter(|entry| entry.class.is_empty());
    let cannot = cannot.map(|entry| entry.contender.label.as_str()).collect::<Vec<_>>().join("; ");
    let cannot = (!cannot.is_empty()).then(|| format!("{cannot} cannot do it"));
    let designed = (!class.is_empty()).then(|| format!("by design of the class, not a fault: {class}"));
    [designed, cannot].into_iter().flatten().collect::<Vec<_>>().join("; ")
}

/// What the classes do by design that the frames show, each thing once.
fn by_design(blamed: &[&Entry]) -> String {
    let mut named: Vec<String> = Vec::new();
    for ClassBehaviour { name, says, source } in blamed.iter().flat_map(|entry| &entry.class) {
        let words = format!("{name} ({source}): {}", says.trim_end_matches('.'));
        if !named.contains(&words) {
            named.push(words);
        }
    }
    named.join("; ")
}

/// Whether it is the addresses that differ, or only the pixels.
fn how(nature: Nature) -> &'static str {
    match nature {
        Nature::Addresses => "it fetches from other addresses",
        Nature::Pixels => "it fetches from the right addresses and shows other pixels",
        Nature::Colours => "it shows the right pixels in other colours",
        Nature::Displaced => "its picture stands in another place",
        Nature::NoPicture => "it gives no stable picture",
    }
}
