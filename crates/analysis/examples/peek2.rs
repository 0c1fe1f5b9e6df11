use backporch_analysis::{faults::*, trials::*};
use std::sync::Arc;
fn main() {
    let f = Quirks::library_and([], 0);
    let bench = Arc::new(backporch_bench::Bench::open("harbour-256", &Default::default()).unwrap());
    let n: u64 = std::env::args().nth(1).and_then(|a| a.parse().ok()).unwrap_or(40);
    let seed: u64 = std::env::args().nth(2).and_then(|a| a.parse().ok()).unwrap_or(1);
    let t = std::time::Instant::now();
    let r = run(&bench, &f, &Trials { inside: n, outside: n / 4, seed, ..Default::default() }, &|| {});
    println!("{:?}\n{r}", t.elapsed());
    for t in &r.trials {
        if !t.hit {
            println!("{:?} {:?}", t.family.map(|x| &f.kinds()[x].name), t);
        }
    }
}
