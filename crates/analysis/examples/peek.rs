use backporch_analysis::{diagnose::*, faults::*, sightings::*};
fn main() {
    for name in std::env::args().skip(1) {
        let s = Sightings::open(&name).unwrap();
        let f = Quirks::library_and([], 0);
        let t = std::time::Instant::now();
        let d = diagnose(&s, &f, &Prior::default(), &|_| {});
        println!("{name}: {:?} {:?} members {} predictions {}", d.conclusion, t.elapsed(), members(&f), d.predictions);
        for n in &d.notes {
            println!("  {n}");
        }
        for s in d.suspects.iter().take(8) {
            println!(
                "  {:.4} {} {:?} {:.4} +{} -{}",
                s.probability, s.name, s.parameters, s.best.probability, s.best.explains, s.best.contradicts
            );
        }
        let t = std::time::Instant::now();
        let ps = backporch_analysis::probe::probes(&s, &f, &d, 6, &|| {});
        println!("  probes {:?} of {}", t.elapsed(), backporch_analysis::probe::candidate_count(&s));
        for p in ps {
            println!("  {:.3} bits {:?} {:?}", p.bits, p.candidate.registers(), p.candidate.change);
            for o in p.predictions {
                println!("      {:.3} {} <- {:?}", o.probability, o.sees.words(), o.suspects);
            }
        }
        for g in &d.indistinguishable {
            println!("  = {g:?}");
        }
    }
}
