//! The service seen from outside: one binary, a module for each resource and promise, and the rules of the house.

#![expect(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a test that meets what it did not expect must stop there"
)]
#![expect(
    clippy::float_cmp,
    reason = "a figure that is told is a short decimal: it is the one that is awaited, or it is wrong"
)]

mod amounts;
mod assumed_air;
mod assumed_rates;
mod attack;
mod audit;
mod batch;
mod bound;
mod cases;
mod clinic;
mod completion;
mod completion_form;
mod contract;
mod contractor;
mod contractor_source;
mod demo;
mod due;
mod estimate;
mod estimate_job;
mod external;
mod extract;
mod film;
mod fire;
mod hostile_file;
mod import;
mod import_progress;
mod inbound;
mod journey;
mod jwks;
mod knowledge;
mod learnt_film;
mod learnt_rate;
mod limit;
mod lists;
mod lockfile;
mod model;
mod outage;
mod outbound;
mod outline;
mod paper;
mod plan;
mod plan_facts;
mod plan_life;
mod product;
mod programme;
mod questions;
mod rate_card;
mod reading;
mod register;
mod register_workbook;
mod release;
mod replan;
mod report;
mod revocation;
mod schedule;
mod schedule_out;
mod sheet;
mod site;
mod stock;
mod surface;
mod survey;
mod taken_back;
mod tidy;
mod window;
