//! What a calendar asks for.

use super::{Act, buffing};

#[test]
fn as_many_buffings_are_done_as_are_due() {
    let mut owed = 0;
    let acts: Vec<Act> = [3, 3, 3, 0, 1, 5, 0].map(|n| buffing(n, &mut owed)).into();
    let buffs: Vec<u8> = acts.iter().map(|act| act.buffs()).collect();
    // 3 → 2 and 1 owed; 4; 3 → 2 and 1 owed; 1; 1; 5 → 4 and 1 owed; 1.
    assert_eq!(buffs, [2, 4, 2, 1, 1, 4, 1]);
    assert_eq!(owed, 0);
    // What cannot be done in any month is not owed for ever.
    for _ in 0..9 {
        assert_eq!(buffing(9, &mut owed), Act::BuffFour);
    }
    assert_eq!(owed, 3);
}
