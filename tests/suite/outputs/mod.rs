//! What people and programs see.

mod docs;
mod pages;
