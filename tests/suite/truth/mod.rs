//! Against the real listings, published values, other readers and searches that try everything.

mod boards;
mod cases;
mod corpus;
mod order;
mod parts;
mod persistent;
mod proofs;
mod properties;
mod reference;
mod slow;
mod spd;
mod standards;
mod suspects;
mod tiers;
