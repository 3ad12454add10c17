//! What the tests share.

pub mod corpus;
pub mod edit;
