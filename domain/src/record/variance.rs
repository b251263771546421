//! Why a line's cost came to differ from its plan's, and what water and vapour its product brought.
//!
//! The parts of a variance follow standard costing: what differs in quantity is valued at the planned rate, what is left
//! is the price. So the parts add up to the variance whatever is rounded.

use super::RecordLine;
use crate::{
    estimate::cost::LineKind,
    knowledge::Product,
    money::Money,
    quantity::{Volume, whole},
};

/// Writes down in each line what of its variance is due to hours and what to litres.
///
/// Hours: the planned rate for the hours that were reported more, or fewer, than planned. Rests are planned apart and
/// reported within the hours, so their line differs by all of it. Litres: the planned price for the litres that were used
/// more, or fewer. Hours or litres of which nothing was planned in that stage count as computed. A charge that tells no hours says
/// nothing of them; so with litres.
pub(super) fn explain(lines: &mut [RecordLine], is_charged: bool) {
    let told = |is: fn(&RecordLine) -> bool| !is_charged || lines.iter().any(is);
    let hours = told(|line| line.actual_labour.us() > 0);
    let litres = told(|line| line.actual_volume.ul() > 0);
    for line in lines {
        match line.kind {
            Some(LineKind::Labour | LineKind::Allowance) if hours => {
                let (planned, actual) = (line.planned_labour.us(), line.actual_labour.us());
                line.productivity = beyond(line, planned, actual);
            }
            Some(LineKind::Product) if litres => {
                let (planned, actual) = (line.planned_volume.ul(), line.actual_volume.ul());
                line.quantity = beyond(line, planned, actual);
            }
            _ => {}
        }
    }
}

/// What `actual` is more than `planned`, at the planned rate.
fn beyond(line: &RecordLine, planned: i64, actual: i64) -> Money {
    if planned > 0 {
        return line.planned.times(actual.saturating_sub(planned), planned);
    }
    Money {
        amount: line.computed.amount.saturating_sub(line.planned.amount),
        ..line.planned
    }
}

/// What a product brought with it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Brought {
    /// Water that it is made up with.
    pub(super) water: Volume,
    /// Volatile organic compounds in mg.
    pub(super) voc_mg: i64,
    /// Product of which no sheet tells how much it gives off.
    pub(super) voc_unknown: Volume,
}

impl Brought {
    /// Water at the product's own dilution, which nobody reports; vapour by its sheet. Water-borne cleaners that have no figure count as unknown.
    pub(super) fn by(product: &Product, used: Volume) -> Self {
        let water = whole(used.l() * product.dilution * 1e6).unwrap_or(i64::MAX);
        let voc_mg = product
            .voc_g_l
            .map(|content| whole(used.l() * content * 1e3).unwrap_or(i64::MAX));
        Self {
            water: Volume::from_ul(water),
            voc_mg: voc_mg.unwrap_or(0),
            voc_unknown: if voc_mg.is_some() { Volume::ZERO } else { used },
        }
    }
}
