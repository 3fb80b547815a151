//! One file a noun.

pub mod about;
pub mod accounts;
pub mod agreement;
pub mod attempts;
pub mod calibration;
pub mod class;
pub mod decisions;
pub mod demo;
pub mod exercises;
pub mod grade;
pub mod gradings;
pub mod readings;
pub mod remarks;
pub mod report;
pub mod retention;
pub mod roster;
pub mod scans;
pub mod session;
pub mod views;
pub mod watched;

use axum::extract::{FromRequest, FromRequestParts};

use crate::error::ApiError;

/// A JSON body whose faults are told as ours.
#[derive(Debug, FromRequest)]
#[from_request(via(axum::Json), rejection(ApiError))]
pub struct Sent<T>(pub T);

/// A query whose faults are told as ours.
#[derive(Debug, FromRequestParts)]
#[from_request(via(axum::extract::Query), rejection(ApiError))]
pub struct Asked<T>(pub T);
