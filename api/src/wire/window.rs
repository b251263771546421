//! Whether the work of a plan fits the access window, and what would make it fit, on the wire.

use domain::plan::{Way, WindowFit};
use serde::Serialize;
use utoipa::ToSchema;

use super::{money::MoneyView, number, plan::Named};

/// Whether the work fits the access window.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct WindowFitView {
    /// The window in minutes.
    #[schema(minimum = 0)]
    window_min: i64,
    /// Minutes from closing to walking on it, done in one go.
    #[schema(minimum = 0)]
    elapsed_min: i64,
    /// Whether it fits into one window.
    fits: bool,
    /// How many windows it takes; null if one part is longer than a window.
    #[schema(minimum = 1)]
    n_nights: Option<i64>,
    /// What would change that, each worked out as a plan is; empty where it fits into one window.
    #[schema(max_items = 20)]
    ways: Vec<WayView>,
}

/// A way to do the work otherwise.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct WayView {
    /// What is done otherwise: `larger_crew`, `other_machine`, `other_process` (right for the wish and allowed),
    /// `more_nights` (as the plan spreads it) or `longer_window`.
    #[schema(max_length = 20, pattern = "^[a-z_]+$")]
    kind: &'static str,
    /// The process.
    process: Named,
    /// The machine, where another one is named.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 60)]
    machine: Option<String>,
    /// Operatives.
    #[schema(minimum = 1)]
    crew_size: i64,
    /// The window in minutes: for `longer_window` the one that is needed.
    #[schema(minimum = 0)]
    window_min: i64,
    /// Minutes from closing to walking on it, done in one go.
    #[schema(minimum = 0)]
    elapsed_min: i64,
    /// Working time of all operatives in hours, without setting up and allowance.
    #[schema(minimum = 0)]
    labour_h: f64,
    /// How many windows it then takes; null if one part is longer than a window.
    #[schema(minimum = 1)]
    n_nights: Option<i64>,
    /// What it costs more than the plan in one go, before tax; below zero where it costs less. Each window after the first
    /// of `more_nights` is set up and cleaned down once more.
    net_change: MoneyView,
    /// Whether it then fits: into one window, or over `n_nights` of them for `more_nights` and `longer_window`.
    fits: bool,
}

impl From<&WindowFit> for WindowFitView {
    fn from(fit: &WindowFit) -> Self {
        Self {
            window_min: fit.window_min,
            elapsed_min: fit.elapsed_min,
            fits: fit.fits,
            n_nights: fit.n_nights,
            ways: fit.ways.iter().map(Into::into).collect(),
        }
    }
}

impl From<&Way> for WayView {
    fn from(way: &Way) -> Self {
        Self {
            kind: way.kind.word(),
            process: Named {
                key: way.process.key.clone(),
                name: way.process.name.clone(),
            },
            machine: way.machine.clone(),
            crew_size: way.crew_size,
            window_min: way.window_min,
            elapsed_min: way.elapsed_min,
            labour_h: number::hours(way.labour),
            n_nights: way.n_nights,
            net_change: way.net_change.into(),
            fits: way.fits,
        }
    }
}
