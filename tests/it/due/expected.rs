//! What a forecast should expect of a job, reckoned from what its plan shows.

use serde_json::Value;
use tests::read;

/// What a job costs on average by the lines of its plan: labour with σ 0.3 but for setting up and cleaning down, what is used up
/// with σ 0.2, and what is charged on top shared out; the mean of a lognormal is its median times e^(σ²/2).
pub(super) fn expected(plan: &Value) -> f64 {
    let (mut labour, mut material, mut net) = (0.0, 0.0, 0.0);
    let (mut around, mut hourly, mut allowance) = (0.0, 0.0, 0.0);
    for line in read::list(&plan["work"], "/cost/lines") {
        let amount: f64 = read::text(line, "/amount/amount").parse().unwrap();
        match read::text(line, "/kind") {
            "labour" | "allowance" | "machine" => labour += amount,
            "product" | "consumable" | "waste" => material += amount,
            "tax" => continue,
            _ => {}
        }
        net += amount;
        match (read::text(line, "/kind"), read::text(line, "/what")) {
            ("labour", "setting up and cleaning down") => {
                (around, hourly) = (around + amount, hourly + amount);
            }
            ("labour", _) => hourly += amount,
            ("allowance", _) => allowance += amount,
            _ => {}
        }
    }
    let on_top = net / (labour + material);
    let fixed = around * (1.0 + allowance / hourly);
    on_top * (fixed + (labour - fixed) * 0.045_f64.exp() + material * 0.02_f64.exp())
}
