//! How fast the corpus is read and audited, on one core, beside counting its line breaks.
//!
//! Bytes are those of the listings' text; unpacking the archive is not timed.

#[expect(clippy::unwrap_used, unreachable_pub, reason = "shared with the tests")]
#[path = "../tests/suite/util/corpus.rs"]
mod corpus;

use std::sync::OnceLock;

use asfitted::evidence::Text;
use asfitted::plan::{self, Plan};
use asfitted::{population, records};
use divan::counter::BytesCount;
use divan::{Bencher, black_box};

fn main() {
    divan::main();
}

fn size() -> BytesCount {
    BytesCount::new(corpus::listings().iter().map(|text| text.as_str().len()).sum::<usize>())
}

/// The plan of each listing that has slots.
fn plans() -> &'static [(&'static Text, Plan)] {
    static PLANS: OnceLock<Vec<(&'static Text, Plan)>> = OnceLock::new();
    PLANS.get_or_init(|| {
        corpus::listings()
            .iter()
            .map(|text| {
                let listings = records::read(text);
                let population = population::rebuild(&listings[0]);
                (text, plan::from_population(&listings[0], &population, false).plan)
            })
            .collect()
    })
}

/// The yardstick: how fast this machine looks at every byte.
#[divan::bench]
fn count_newlines(bencher: Bencher<'_, '_>) {
    corpus::listings();
    bencher.counter(size()).bench_local(|| {
        corpus::listings()
            .iter()
            .map(|t| memchr::memchr_iter(b'\n', black_box(t).as_str().as_bytes()).count())
            .sum::<usize>()
    });
}

#[divan::bench]
fn records_only(bencher: Bencher<'_, '_>) {
    corpus::listings();
    bencher.counter(size()).bench_local(|| {
        for text in corpus::listings() {
            black_box(records::read(black_box(text)));
        }
    });
}

#[divan::bench]
fn records_and_population(bencher: Bencher<'_, '_>) {
    corpus::listings();
    bencher.counter(size()).bench_local(|| {
        for text in corpus::listings() {
            let listings = records::read(black_box(text));
            black_box(population::rebuild(&listings[0]));
        }
    });
}

#[divan::bench]
fn records_population_and_audit(bencher: Bencher<'_, '_>) {
    plans();
    bencher.counter(size()).bench_local(|| {
        for (text, plan) in plans() {
            let listings = records::read(black_box(text));
            let _ = black_box(corpus::audited(text, &listings[0], plan));
        }
    });
}
