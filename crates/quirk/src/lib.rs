//! stub
use backporch_form::*;
use backporch_raster::*;
use std::collections::BTreeMap;
#[derive(Clone, Debug)]
pub struct Family;
#[derive(Clone, Debug)]
pub struct Quirk;
#[derive(Clone, Debug)]
pub struct QuirkStack(bool);
impl Family {
    pub fn built_in(n: &str) -> Option<Family> {
        (n == "row-reload").then_some(Family)
    }
    pub fn built_in_names() -> impl Iterator<Item = &'static str> {
        ["row-reload"].into_iter()
    }
    pub fn from_source(_: &Source) -> Result<Family, FormError> {
        Ok(Family)
    }
    pub fn close(&self, _: &BTreeMap<String, i64>) -> Result<Quirk, FormError> {
        Ok(Quirk)
    }
}
impl Family {
    pub fn name(&self) -> &str {
        "row-reload"
    }
    pub fn title(&self) -> &str {
        ""
    }
    pub fn cause(&self) -> &str {
        ""
    }
    pub fn looks(&self) -> &str {
        ""
    }
    pub fn standing(&self) -> &str {
        ""
    }
    pub fn count(&self) -> u64 {
        1
    }
    pub fn describe(&self) -> Vec<String> {
        vec![]
    }
    pub fn warnings(&self) -> Vec<String> {
        vec![]
    }
}
impl Quirk {
    pub fn name(&self) -> &str {
        "row-reload"
    }
}
impl QuirkStack {
    pub fn new(v: Vec<Quirk>, _: u64) -> Self {
        QuirkStack(!v.is_empty())
    }
}
impl Tap for QuirkStack {
    fn stages(&self) -> Stages {
        if self.0 { Stages::ADDRESS } else { Stages::NONE }
    }
    fn address(&self, l: &Line, _o: u32, a: u32) -> Run {
        let r = a / 256 - l.linear / 256;
        if r <= 1 {
            Run { linear: a, len: 256 - a % 256 }
        } else {
            Run { linear: (l.linear / 256 + 1) * 256 + a % 256, len: 256 - a % 256 }
        }
    }
    fn bends(&self, l: &Line, o: u32, a: u32) -> Vec<Bend> {
        let r = self.address(l, o, a);
        if r.linear != a { vec![Bend { quirk: "row-reload".into(), before: a, after: r.linear }] } else { vec![] }
    }
}
