//! Prints the part of `docs/quirks.md` that is made from the tables of the language.

fn main() {
    print!("{}", backporch_quirk::reference());
}
