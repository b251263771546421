//! Cost sheets in words.

use std::io::Write;

use super::super::{
    DemoError,
    answer::Cost,
    paper::{Column, Paper, Table},
    words::money,
};

/// Every line, then the sums of the lines shown.
pub(super) fn cost<W: Write>(paper: &mut Paper<W>, cost: &Cost) -> Result<(), DemoError> {
    paper.head("Money")?;
    let mut table = Table::new(&[
        Column::Words("line"),
        Column::Words("stage"),
        Column::Words("how it is worked out"),
        Column::Figure("amount"),
    ]);
    for line in cost.lines.iter().filter(|line| line.kind != "tax") {
        let stage = line.stage.clone().unwrap_or_default();
        table.row([
            line.what.clone(),
            stage,
            line.formula.clone(),
            money(&line.amount),
        ]);
    }
    table.sum([
        "before tax".to_owned(),
        String::new(),
        String::new(),
        money(&cost.net),
    ]);
    for line in cost.lines.iter().filter(|line| line.kind == "tax") {
        table.sum([
            line.what.clone(),
            String::new(),
            line.formula.clone(),
            money(&line.amount),
        ]);
    }
    table.sum([
        "to pay".to_owned(),
        String::new(),
        String::new(),
        money(&cost.gross),
    ]);
    paper.table(&table)?;
    Ok(())
}
