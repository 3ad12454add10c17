//! What someone says was fitted, beside what is detected.

use super::claim::{Counted, FittedClaim};
use super::suspects::beyond_main;
use crate::base::words::{counted, short_list};
use crate::plan::ModuleSpec;
use crate::plan::agreement::{contradicted_fields, describe_found, describe_wanted};
use crate::population::{Module, Population};
use crate::units::Bytes;

/// How what was stated and what is detected stand to each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Agreement {
    /// What was stated is detected, and nothing else.
    Same,
    /// Some of what was stated is not detected, and all that is detected was stated.
    Fewer,
    /// All that was stated is detected, and more.
    More,
    /// Modules are detected that are none of those stated, and of those stated some are not detected.
    Contradicted,
}

impl Agreement {
    /// The word in JSON.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Same => "same",
            Self::Fewer => "fewer",
            Self::More => "more",
            Self::Contradicted => "contradicted",
        }
    }
}

/// A detected module that is none of those stated.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Other {
    /// Its slot.
    pub slot: String,
    /// In what it differs from the stated module of its size; empty where none has its size.
    pub differs: Vec<&'static str>,
}

/// What someone says was fitted, beside what is detected.
#[derive(Debug, Clone, PartialEq)]
pub struct Stated {
    /// What was said, kind by kind: `12 x 16GB`.
    pub claimed: Vec<String>,
    /// What is detected, kind by kind.
    pub detected: Vec<String>,
    /// Modules that were stated and are not detected.
    pub missing: Vec<ModuleSpec>,
    /// Modules that are detected and none of those stated.
    pub others: Vec<Other>,
    /// How the two stand to each other.
    pub agreement: Agreement,
    /// Whether no detected module is one of those stated, not even by its size: then the statement is about other
    /// modules, and says nothing about which of these are lost.
    pub unlike: bool,
}

impl Stated {
    /// Compares a claim with what is detected; `missing` is what it calls for and is not detected, by total.
    pub(super) fn of(
        claim: &FittedClaim,
        population: &Population<'_>,
        missing_by_total: &[ModuleSpec],
    ) -> Self {
        match claim {
            FittedClaim::Total(total) => {
                // Of other tiers what the total seems to mean.
                let sum = Bytes(population.totals.main_at_least().0 + beyond_main(claim, population).0);
                let agreement = match sum.cmp(total) {
                    std::cmp::Ordering::Less => Agreement::Fewer,
                    std::cmp::Ordering::Equal => Agreement::Same,
                    std::cmp::Ordering::Greater => Agreement::More,
                };
                Self {
                    claimed: vec![total.to_string()],
                    detected: kinds(population.fitted().map(|(_, module)| described(module))),
                    missing: missing_by_total.to_vec(),
                    others: Vec::new(),
                    agreement,
                    unlike: false,
                }
            }
            FittedClaim::Modules(modules) => Self::of_modules(modules, population),
        }
    }

    fn of_modules(modules: &[(u32, ModuleSpec)], population: &Population<'_>) -> Self {
        let Counted { found, missing } = Counted::of(modules, population);
        let detected = kinds(found.iter().map(|(_, module, _)| described(module)));
        let others: Vec<Other> = found
            .iter()
            .filter(|(.., kind)| kind.is_none())
            .map(|(slot, module, _)| {
                let of_size = missing.iter().find(|wanted| has_size(wanted, module));
                let differs = of_size.map_or_else(Vec::new, |wanted| contradicted_fields(wanted, module));
                Other { slot: slot.name.to_string(), differs }
            })
            .collect();
        let agreement = match (missing.is_empty(), others.is_empty()) {
            (true, true) => Agreement::Same,
            (false, true) => Agreement::Fewer,
            (true, false) => Agreement::More,
            (false, false) => Agreement::Contradicted,
        };
        Self {
            claimed: modules
                .iter()
                .map(|(count, wanted)| format!("{count} x {}", describe_wanted(wanted)))
                .collect(),
            detected,
            unlike: agreement == Agreement::Contradicted
                && others.len() == found.len()
                && others.iter().all(|other| other.differs.is_empty()),
            missing,
            others,
            agreement,
        }
    }

    /// The stated modules whose slots are looked for, and the slots of others that may stand in their place. One of
    /// the same size stands for a stated one without doubt.
    pub(super) fn sought(&self, population: &Population<'_>) -> (Vec<ModuleSpec>, Vec<String>) {
        if self.unlike {
            return (Vec::new(), Vec::new());
        }
        let mut sought = self.missing.clone();
        let mut others = Vec::new();
        for other in &self.others {
            let module = population.slot(&other.slot).and_then(|(_, slot)| slot.fitted());
            let alike = module.and_then(|module| sought.iter().position(|wanted| has_size(wanted, module)));
            match alike {
                Some(at) => {
                    sought.remove(at);
                }
                None => others.push(other.slot.clone()),
            }
        }
        (sought, others)
    }

    /// What the comparison comes to, in a sentence or two; nothing where the two agree or only something is missing.
    pub fn sentence(&self) -> Option<String> {
        match self.agreement {
            Agreement::Same | Agreement::Fewer => None,
            Agreement::More if self.others.is_empty() => Some("More is detected than was stated.".to_owned()),
            Agreement::More => Some(format!(
                "{} more than stated {} detected.",
                counted(self.others.len(), "module"),
                if self.others.len() == 1 { "is" } else { "are" }
            )),
            Agreement::Contradicted => Some(format!(
                "They do not agree: {} Read the stickers and state what is fitted, before anything is taken for lost.",
                self.contradiction()
            )),
        }
    }

    fn contradiction(&self) -> String {
        let missing = counted(self.missing.len(), "module");
        let are = if self.missing.len() == 1 { "is" } else { "are" };
        if self.unlike {
            return format!("of {missing} stated none is detected, and what is detected was not stated.");
        }
        let mut fields: Vec<&str> =
            self.others.iter().flat_map(|other| other.differs.iter().copied()).collect();
        fields.sort_unstable();
        fields.dedup();
        let in_what =
            if fields.is_empty() { String::new() } else { format!(" (other {})", fields.join(", ")) };
        format!(
            "{missing} of those stated {are} not detected, and {} detected in {} {} none of those stated{in_what}.",
            counted(self.others.len(), "module"),
            short_list(&self.others.iter().map(|other| other.slot.clone()).collect::<Vec<_>>()),
            if self.others.len() == 1 { "is" } else { "are" },
        )
    }
}

/// Whether a module has the size of a stated one, whatever else it is.
fn has_size(wanted: &ModuleSpec, module: &Module<'_>) -> bool {
    let size: Option<Bytes> = wanted.size;
    size.is_some() && size == module.bytes()
}

/// `10 x 32 GiB, DDR3`: alike ones counted, in the order in which they come first.
fn kinds(texts: impl Iterator<Item = String>) -> Vec<String> {
    let mut kinds: Vec<(usize, String)> = Vec::new();
    for text in texts {
        match kinds.iter_mut().find(|(_, other)| *other == text) {
            Some((count, _)) => *count += 1,
            None => kinds.push((1, text)),
        }
    }
    kinds.into_iter().map(|(count, text)| format!("{count} x {text}")).collect()
}

/// A module as one of its kind.
fn described(module: &Module<'_>) -> String {
    describe_found(&Module { serial: None, ..module.clone() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::Text;
    use crate::plan::parse_order;
    use crate::{population, records};

    fn stated(modules: &[&str], orders: &[&str], check: impl Fn(&Stated, &[ModuleSpec], &[String])) {
        let body: String = modules
            .iter()
            .zip(1u16..)
            .map(|(fields, handle)| {
                format!("Handle 0x{handle:04X}, DMI type 17, 40 bytes\nMemory Device\n\tLocator: A{handle}\n\t{fields}\n\n")
            })
            .collect();
        let text = Text::from_bytes("t", body.into_bytes()).unwrap();
        let listings = records::read(&text);
        let population = population::rebuild(&listings[0]);
        let claim = FittedClaim::Modules(orders.iter().map(|order| parse_order(order).unwrap()).collect());
        let stated = Stated::of(&claim, &population, &[]);
        let (sought, others) = stated.sought(&population);
        check(&stated, &sought, &others);
    }

    /// A kind that says less leaves the modules that only another can be.
    #[test]
    fn kinds_do_not_take_each_others_modules() {
        let modules = ["Size: 32 GB\n\tRank: 4", "Size: 32 GB\n\tRank: 2"];
        for orders in [["1 x 32GB", "1 x 32GB 4Rx4"], ["1 x 32GB 4Rx4", "1 x 32GB"]] {
            stated(&modules, &orders, |stated, _, _| {
                assert_eq!(stated.agreement, Agreement::Same, "{orders:?}");
            });
        }
    }

    #[test]
    fn other_modules_are_no_missing_ones() {
        let modules = ["Size: 32 GB"; 10];
        stated(&modules, &["12 x 16GB"], |stated, sought, _| {
            assert_eq!((stated.agreement, stated.unlike), (Agreement::Contradicted, true));
            assert_eq!((stated.missing.len(), stated.others.len(), sought.len()), (12, 10, 0));
        });
        stated(&modules, &["8 x 32GB"], |stated, sought, _| {
            assert_eq!((stated.agreement, stated.others.len(), sought.len()), (Agreement::More, 2, 0));
        });
        stated(&modules, &["12 x 32GB"], |stated, sought, _| {
            assert_eq!((stated.agreement, sought.len()), (Agreement::Fewer, 2));
            assert_eq!(stated.sentence(), None);
        });
    }

    /// One shows half its size and may stand for one of those stated; one with other ranks does.
    #[test]
    fn a_module_of_another_size_stands_for_a_stated_one() {
        stated(&["Size: 32 GB", "Size: 16 GB"], &["3 x 32GB"], |stated, sought, others| {
            assert_eq!((stated.agreement, stated.unlike), (Agreement::Contradicted, false));
            assert_eq!((stated.missing.len(), sought.len(), others), (2, 2, &["A2".to_owned()][..]));
        });
        let modules = ["Size: 32 GB\n\tRank: 4"; 2];
        stated(&modules, &["2 x 32GB 2Rx4"], |stated, sought, others| {
            assert_eq!(stated.others[0].differs, ["ranks"]);
            assert!(!stated.unlike && sought.is_empty() && others.is_empty());
        });
    }
}
