//! Measured execution times, and the programs of ours that do the same.

pub mod run;

/// A machine that was measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Measured {
    /// A PC: 8088 at 4.77 MHz.
    Pc,
    /// The same with an EGA.
    PcEga,
    /// An AT: 80286 at 10 MHz, memory of one wait state.
    At,
    /// The same with an EGA.
    AtEga,
}

/// One measurement.
#[derive(Clone, Debug)]
pub struct Row {
    pub id: String,
    pub machine: Measured,
    pub microseconds: f64,
    before: String,
    timed: String,
    after: String,
}

/// Every measurement of the table.
pub fn rows() -> Vec<Row> {
    let lines = include_str!("../data/measured.txt").lines().filter(|line| !line.starts_with('#') && !line.is_empty());
    lines.map(row).collect()
}

fn row(line: &str) -> Row {
    let fields: Vec<&str> = line.split('|').map(str::trim).collect();
    let [id, machine, _repetitions, microseconds, before, timed, after] = fields.as_slice() else {
        panic!("{line}: found {} fields, allowed 7", fields.len());
    };
    let machine = match *machine {
        "pc" => Measured::Pc,
        "pc-ega" => Measured::PcEga,
        "at" => Measured::At,
        "at-ega" => Measured::AtEga,
        other => panic!("{id}: found machine {other}, allowed pc, pc-ega, at, at-ega"),
    };
    let [before, timed, after] = [before, timed, after].map(|code| lines(code));
    Row { id: (*id).to_string(), machine, microseconds: microseconds.parse().expect("a number"), before, timed, after }
}

/// Instructions on lines of their own; repetitions as the assembler writes them.
fn lines(code: &str) -> String {
    let words: Vec<&str> = code.split_whitespace().collect();
    let mut text = String::new();
    for word in words {
        match word {
            "/" => text.push('\n'),
            "}" => text.push_str("\n%assign i i+1\n%endrep\n"),
            _ => match word.strip_prefix('x').and_then(|rest| rest.strip_suffix('{')) {
                Some(times) => text.push_str(&format!("%assign i 0\n%rep {times}\n")),
                None => text.push_str(&format!("{word} ")),
            },
        }
    }
    text.replace("%%", "t_%[i]_")
}

impl Row {
    /// The program that times it: two writes to port 43h with the code between them, as the book's timer has it. `idle`
    /// NOPs before shift it against the refresh.
    pub fn program(&self, idle: u32) -> String {
        self.around(idle, &self.timed)
    }

    /// The same without the code.
    pub fn overhead(&self, idle: u32) -> String {
        self.around(idle, "")
    }

    fn around(&self, idle: u32, timed: &str) -> String {
        let Self { before, after, .. } = self;
        format!(
            "cpu 8086\norg 100h\ncli\n{before}\ntimes {idle} nop\ncall timer_\n{timed}\ncall timer_\nhlt\n\
             timer_:\npush ax\nmov al,0\nout 43h,al\npop ax\nret\n{after}\nalign 16\nBUF:\n"
        )
    }
}

/// How far computed times lie from measured ones.
#[derive(Default)]
pub struct Errors {
    percent: Vec<f64>,
}

impl Errors {
    /// Adds a time computed and measured; gives the error in per cent.
    pub fn add(&mut self, computed: f64, measured: f64) -> f64 {
        let error = (computed / measured - 1.0) * 100.0;
        self.percent.push(error.abs());
        self.percent.sort_by(f64::total_cmp);
        error
    }

    /// How many there are.
    pub fn count(&self) -> usize {
        self.percent.len()
    }

    /// Median of the absolute errors in per cent.
    pub fn median(&self) -> f64 {
        self.percent.get(self.percent.len() / 2).copied().unwrap_or(f64::NAN)
    }

    /// The absolute error that nine in ten do not exceed.
    pub fn ninth_decile(&self) -> f64 {
        self.percent.get(self.percent.len() * 9 / 10).copied().unwrap_or(f64::NAN)
    }

    /// The largest absolute error.
    pub fn largest(&self) -> f64 {
        self.percent.last().copied().unwrap_or(f64::NAN)
    }
}
