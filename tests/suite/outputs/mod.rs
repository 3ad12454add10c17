//! What people and programs see.

mod docs;
mod json;
mod pages;
mod paper;
mod schemas;
mod snapshots;
