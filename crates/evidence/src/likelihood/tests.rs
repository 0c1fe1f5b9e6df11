//! Grades and chances against what one would say by common sense.

use super::*;
use proptest::prelude::*;

/// Every `period`-th line from `first` bad between two pixels of 320, of 200 lines.
fn every(period: usize, first: u32, from: u32, to: u32) -> FrameSignature {
    let mut signature = FrameSignature::clean(320, 200);
    (first..200).step_by(period).for_each(|line| signature.mark(line, (from, to), Nature::Addresses));
    signature.moved = Some(2);
    signature
}

fn graded(statement: Statement, signature: &FrameSignature) -> f64 {
    grade(&statement, signature)
}

#[test]
fn what_is_true_has_the_grade_one() {
    let fourth = every(4, 3, 258, 319);
    for statement in [
        Statement::Damaged,
        Statement::EdgeDamaged,
        Statement::Every { period: 4, first: None },
        Statement::Every { period: 4, first: Some(3) },
        Statement::Lines((3..200).step_by(4).collect()),
        Statement::Count(50),
        Statement::Pixels(258, 319),
        Statement::ShiftedBy(2),
    ] {
        assert_eq!(graded(statement.clone(), &fourth), 1.0, "{statement}");
    }
    assert_eq!(graded(Statement::Clean, &FrameSignature::clean(320, 200)), 1.0);
    assert_eq!(graded(Statement::Right, &every(4, 3, 200, 319)), 1.0);
    assert_eq!(graded(Statement::AllOfIt, &every(1, 0, 0, 319)), 1.0);
    assert_eq!(graded(Statement::NoPicture, &FrameSignature::all(320, 200, Nature::NoPicture)), 1.0);
}

#[test]
fn what_is_false_has_the_grade_zero() {
    let fourth = every(4, 3, 258, 319);
    for statement in [
        Statement::Clean,
        Statement::Broken,
        Statement::AllOfIt,
        Statement::Every { period: 3, first: None },
        Statement::Every { period: 4, first: Some(2) },
        Statement::FewLines,
        Statement::MostLines,
        Statement::Lines(vec![1, 2]),
        Statement::Count(100),
        Statement::Left,
        Statement::Across,
        Statement::Pixels(0, 60),
        Statement::ShiftedBy(9),
        Statement::Top,
        Statement::Bottom,
        Statement::LeftEdge,
        Statement::Specks,
        Statement::Displaced,
        Statement::WrongColours,
        Statement::Flickers,
    ] {
        assert_eq!(graded(statement.clone(), &fourth), 0.0, "{statement}");
    }
    for statement in [Statement::Damaged, Statement::Right, Statement::Every { period: 4, first: None }] {
        assert_eq!(graded(statement, &FrameSignature::clean(320, 200)), 0.0);
    }
}

/// What is true and not the nearest word is likely, but less than the nearest one.
#[test]
fn the_nearest_word_is_the_likeliest() {
    let fourth = every(4, 3, 258, 319);
    let some = graded(Statement::SomeLines, &fourth);
    assert!(some > 0.3 && some < graded(Statement::Every { period: 4, first: None }, &fourth), "{some}");
    let mut tinted = FrameSignature::clean(320, 200);
    (0..200).for_each(|line| tinted.mark(line, (0, 319), Nature::Colours));
    let lines = graded(Statement::Every { period: 1, first: None }, &tinted);
    assert!(lines > 0.0 && lines < graded(Statement::WrongColours, &tinted), "{lines}");
    let mut low = FrameSignature::clean(320, 200);
    (150..200).for_each(|line| low.mark(line, (300, 319), Nature::Addresses));
    assert_eq!(graded(Statement::Bottom, &low), 1.0);
    assert_eq!(graded(Statement::RightEdge, &low), 1.0);
    assert_eq!(graded(Statement::Top, &low), 0.0);
}

#[test]
fn small_damage_may_be_overlooked() {
    let two_pixels = every(4, 3, 318, 319);
    let overlooked = graded(Statement::Clean, &two_pixels);
    assert!(overlooked > 0.1 && overlooked < 0.7, "{overlooked}");
    assert_eq!(overlooked + graded(Statement::Damaged, &two_pixels), 1.0);
}

#[test]
fn misread_numbers_are_half_forgiven() {
    let fourth = every(4, 3, 258, 319);
    for statement in [Statement::Count(51), Statement::Pixels(257, 319), Statement::ShiftedBy(3)] {
        let grade = graded(statement.clone(), &fourth);
        assert!(grade > 0.2 && grade < 0.6, "{statement}: {grade}");
    }
}

#[test]
fn ranges_and_sequences_are_told_apart() {
    let (clean, bad) = (FrameSignature::clean(320, 200), every(4, 3, 258, 319));
    let sequence: Vec<&FrameSignature> = vec![&bad, &bad, &clean];
    let of = |seen: &Seen| fit(seen, &sequence, 3, 0.05).grade;
    let said = |share| Seen::Said(share, vec![Statement::Damaged]);
    assert!((of(&said(Share::Each)) - 2.0 / 3.0).abs() < 1e-12);
    assert_eq!(of(&said(Share::Most)), 1.0);
    assert_eq!(of(&said(Share::Several)), 1.0);
    assert_eq!(of(&said(Share::NoFrame)), 0.0);
    assert_eq!(of(&Seen::CleanAgainAt(2)), 1.0);
    let pairs: Vec<&FrameSignature> = vec![&bad, &bad, &clean, &clean];
    assert_eq!(fit(&Seen::RepeatsEvery(2), &pairs, 4, 0.05).grade, 1.0);
    assert_eq!(fit(&Seen::RepeatsEvery(2), &[&bad, &clean, &clean, &bad], 4, 0.05).grade, 0.0);
}

/// A picture of which a few steps are bad comes and goes as it scrolls through them.
#[test]
fn what_comes_and_goes_in_a_scroll_flickers_now_and_then() {
    let (clean, bad) = (FrameSignature::clean(256, 200), every(1, 0, 8, 255));
    let of = |bad_steps: usize| {
        let steps: Vec<&FrameSignature> = (0..64).map(|step| if step < bad_steps { &bad } else { &clean }).collect();
        fit(&Seen::Said(Share::NowAndThen, vec![Statement::Flickers]), &steps, 256, 0.05).grade
    };
    assert_eq!([of(0), of(3), of(62)], [0.0, 1.0, 0.0]);
    let restless = FrameSignature { flickers: true, ..bad.clone() };
    let seen = Seen::Said(Share::NowAndThen, vec![Statement::Flickers]);
    assert!(fit(&seen, &[&restless; 64], 256, 0.05).grade > SightingFit::EXPLAINS);
}

#[test]
fn exact_words_weigh_more_than_vague_ones() {
    let (right, wrong) = (every(4, 3, 258, 319), every(4, 2, 258, 319));
    let odds = |statements: Vec<Statement>| {
        let seen = Seen::Said(Share::Each, statements);
        fit(&seen, &[&right], 1, 0.05).log - fit(&seen, &[&wrong], 1, 0.05).log
    };
    let exact = odds(vec![Statement::Lines((3..200).step_by(4).collect())]);
    let counted = odds(vec![Statement::Every { period: 4, first: Some(3) }]);
    assert!(exact > counted && counted > 5.0, "{exact} {counted}");
    assert_eq!(odds(vec![Statement::Damaged]), 0.0);
}

proptest! {
    /// A likelihood is one: never above the best there can be, never nothing.
    #[test]
    fn likelihoods_have_bounds(
        period in 1..20_usize, first in 0..20_u32, from in 0..320_u32, to in 0..320_u32,
        errors in 0.001..0.5_f64, steps in 1..100_u64, word in 0..6_usize,
    ) {
        let signature = every(period, first, from.min(to), from.max(to));
        let words = [
            Statement::Clean, Statement::Right, Statement::Every { period: 4, first: None },
            Statement::Count(50), Statement::AllOfIt, Statement::Pixels(10, 20),
        ];
        for share in [Share::Each, Share::Most, Share::Several, Share::NoFrame] {
            let seen = Seen::Said(share, vec![words[word].clone()]);
            let fit = fit(&seen, &[&signature, &signature], steps, errors);
            prop_assert!((0.0..=1.0).contains(&fit.grade));
            prop_assert!(fit.log.is_finite() && fit.log <= best(&seen, steps, errors) + 1e-9);
        }
    }
}
