//! Why something cannot be done at all: which steps, which window, how much is missing, and what would make it fit.

use super::bound::Reach;
use super::decode::Decoder;
use super::network::{Arc, Network};
use super::{Time, Window};

/// What cannot be done. All of these are proven; a search that only found nothing says so instead.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reason {
    /// What is in the way.
    pub obstacle: Obstacle,
    /// What would make it fit, each by itself as far as this obstacle is concerned.
    pub remedies: Vec<Remedy>,
}

/// What is in the way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Obstacle {
    /// A step needs more units than there ever are.
    TooFew {
        /// The step.
        step: usize,
        /// The resource.
        resource: usize,
        /// The most there are at a time.
        most: u32,
    },
    /// Steps that have to be done in one go fit no window.
    NoWindow {
        /// The steps in their order.
        steps: Vec<usize>,
        /// The longest window that all of them may use; `None` if there is none.
        longest: Option<Window>,
        /// How much longer it would have to be; nothing if another reason keeps them out, such as too few on the shift.
        short_by: Time,
    },
    /// Steps one after another take longer than the horizon has windows for, nobody else being in the way.
    Horizon {
        /// The steps in their order.
        chain: Vec<usize>,
        /// How much does not fit: work and waits, not counting closed hours.
        short_by: Time,
    },
    /// Waits contradict each other, whoever does the steps: around these, each waiting for the one before it and the first
    /// for the last, they add up to more than nothing.
    Circle {
        /// The steps in their order.
        steps: Vec<usize>,
        /// By how much longest waits would have to be longer, or least ones shorter.
        short_by: Time,
    },
    /// Waits, and steps that need too much of a resource to be done at once, leave no room before the horizon.
    Crowded {
        /// The steps at which it shows; none if it shows at a resource as a whole.
        steps: Vec<usize>,
    },
    /// There is more work for a resource than it has time.
    TooMuchWork {
        /// The resource.
        resource: usize,
        /// Units times time that are missing.
        short_by: Time,
    },
    /// A space cannot be open by its deadline, nobody else being in the way.
    Deadline {
        /// The space.
        space: usize,
        /// The steps that lead to its reopening.
        chain: Vec<usize>,
        /// The first window after which it would be open too late; `None` if no window matters.
        window: Option<Window>,
        /// By how much the earliest possible reopening is late.
        short_by: Time,
    },
}

/// What would make it fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Remedy {
    /// A window of this length.
    WindowOf(Time),
    /// So many units of a resource at once.
    Units {
        /// The resource.
        resource: usize,
        /// How many.
        units: u32,
    },
    /// A longest wait of this length on a link, by another product or way of work.
    LongestWait {
        /// The link.
        link: usize,
        /// How long.
        max_lag: Time,
    },
    /// A horizon or deadline no earlier than this.
    Until(Time),
    /// So much more time of one unit of a resource.
    MoreTime {
        /// The resource.
        resource: usize,
        /// How much.
        time: Time,
    },
}

/// Everything that is proven impossible about a network; nothing does not prove that it can be done.
pub(super) fn obstacles(net: &Network<'_>) -> Vec<Reason> {
    let mut found: Vec<Reason> = (0..net.n()).flat_map(|step| too_few(net, step)).collect();
    if !net.is_ordered {
        // Only what has an order of its steps can be tried one after another.
        if found.is_empty() {
            found.extend((0..net.workload.resources.len()).filter_map(|r| too_much_work(net, r)));
        }
        return found;
    }
    if found.is_empty() {
        let mut empty = Decoder::without_ways(net);
        found.extend((0..net.blocks.len()).filter_map(|block| no_window(&mut empty, block)));
    }
    if found.is_empty() {
        found.extend(horizon(net));
        found.extend((0..net.workload.resources.len()).filter_map(|r| too_much_work(net, r)));
    }
    found
}

fn too_few(net: &Network<'_>, step: usize) -> Vec<Reason> {
    let demands = net.workload.steps[step].demands.iter();
    let reason = |d: &super::Demand| {
        let periods = net.workload.resources[d.resource].periods.iter();
        let most = periods.map(|p| p.units).max().unwrap_or(0);
        (d.units > most && net.duration[step] > 0).then(|| Reason {
            obstacle: Obstacle::TooFew {
                step,
                resource: d.resource,
                most,
            },
            remedies: vec![Remedy::Units {
                resource: d.resource,
                units: d.units,
            }],
        })
    };
    demands.filter_map(reason).collect()
}

/// Where a block finds its place in an empty house.
fn alone<'d>(empty: &'d mut Decoder<'_, '_>, block: usize) -> Option<&'d [Time]> {
    empty.clear();
    let fits = empty.try_place(block).is_ok();
    fits.then_some(empty.start.as_slice())
}

fn no_window(empty: &mut Decoder<'_, '_>, block: usize) -> Option<Reason> {
    if alone(empty, block).is_some() {
        return None;
    }
    let net = empty.net;
    let steps = net.blocks[block].clone();
    let all = Window {
        from: 0,
        to: net.workload.horizon,
    };
    let shared = steps.iter().filter_map(|step| net.open(*step));
    let windows = shared.fold(vec![all], |shared, open| {
        super::network::both(&shared, &open.0)
    });
    let longest = windows
        .into_iter()
        .max_by_key(|w| (w.to - w.from, std::cmp::Reverse(w.from)));
    let waits = steps.windows(2).map(|pair| {
        let arcs = net.after[pair[0]].iter().filter(|arc| arc.step == pair[1]);
        arcs.map(|arc| arc.min).max().unwrap_or(0)
    });
    let span = steps.iter().map(|step| net.duration[*step]).sum::<Time>() + waits.sum::<Time>();
    let short_by = (span - longest.map_or(0, |w| w.to - w.from)).max(0);
    let mut remedies = Vec::new();
    if short_by > 0 {
        remedies.push(Remedy::WindowOf(span));
    }
    remedies.extend(longer_waits(net, block));
    Some(Reason {
        obstacle: Obstacle::NoWindow {
            steps,
            longest,
            short_by,
        },
        remedies,
    })
}

/// Longest waits that keep a block out by themselves, and how long each would have to be: found by trying.
fn longer_waits(net: &Network<'_>, block: usize) -> Vec<Remedy> {
    let mut remedies = Vec::new();
    for pair in net.blocks[block].windows(2) {
        let with = |max: Option<Time>| {
            let mut relaxed = net.clone();
            let of = |arcs: &mut Vec<Arc>, other: usize| {
                let both = arcs
                    .iter_mut()
                    .filter(|arc| arc.step == other && arc.max.is_some());
                both.for_each(|arc| arc.max = max);
            };
            of(&mut relaxed.before[pair[1]], pair[0]);
            of(&mut relaxed.after[pair[0]], pair[1]);
            let mut empty = Decoder::without_ways(&relaxed);
            alone(&mut empty, block)
                .map(|start| start[pair[1]] - start[pair[0]] - net.duration[pair[0]])
        };
        let Some(mut max_lag) = with(None) else {
            continue;
        };
        // The longer the wait may be the better it fits, so halving finds the least.
        let mut low = 0;
        while low < max_lag {
            let middle = low.midpoint(max_lag);
            match with(Some(middle)) {
                Some(_) => max_lag = middle,
                None => low = middle + 1,
            }
        }
        let mut links = net.workload.links.iter();
        let link = links.position(|l| l.from == pair[0] && l.to == pair[1] && l.max_lag.is_some());
        remedies.extend(link.map(|link| Remedy::LongestWait { link, max_lag }));
    }
    remedies
}

/// Starts of all steps, each block alone in the house; where a block runs out of time, it and what it lacks.
fn alone_in_turn(net: &Network<'_>) -> Result<Vec<Time>, (usize, Vec<Time>)> {
    let mut empty = net.clone();
    empty.need.iter_mut().for_each(|need| need.0.clear());
    let mut decoder = Decoder::without_ways(&empty);
    for block in 0..net.blocks.len() {
        if decoder.try_place(block).is_err() {
            return Err((block, decoder.start));
        }
    }
    Ok(decoder.start)
}

/// The steps that lead to a step when nobody else is in the way.
fn chain_before(net: &Network<'_>, start: &[Time], step: usize) -> Vec<usize> {
    let mut chain = vec![step];
    let mut at = step;
    while let Some(arc) = net.before[at]
        .iter()
        .max_by_key(|arc| start[arc.step] + net.duration[arc.step] + arc.min)
        .filter(|arc| net.is_ordered || !chain.contains(&arc.step))
    {
        at = arc.step;
        chain.push(at);
    }
    chain.reverse();
    chain
}

fn horizon(net: &Network<'_>) -> Option<Reason> {
    // Loose longest waits may make what is alone late; only the least waits prove anything.
    let mut loose = net.clone();
    let inside = |a: usize, b: usize| net.block_of[a] == net.block_of[b];
    for step in 0..net.n() {
        let keep = |other: usize, max: Option<Time>| max.filter(|_| inside(step, other));
        loose.before[step]
            .iter_mut()
            .for_each(|arc| arc.max = keep(arc.step, arc.max));
        loose.after[step]
            .iter_mut()
            .for_each(|arc| arc.max = keep(arc.step, arc.max));
    }
    let Err((block, start)) = alone_in_turn(&loose) else {
        return None;
    };
    let head = net.blocks[block][0];
    let chain = chain_before(net, &start, head);
    let from = super::bound::earliest_by_links(net, &start, head);
    let mut tail = vec![0; net.n()];
    for step in net.order.iter().rev() {
        for arc in &net.after[*step] {
            tail[*step] = tail[*step].max(arc.min + net.duration[arc.step] + tail[arc.step]);
        }
    }
    let ends = from + net.duration[head] + tail[head];
    let short_by = (ends - net.workload.horizon).max(1);
    Some(Reason {
        obstacle: Obstacle::Horizon { chain, short_by },
        remedies: vec![Remedy::Until(ends.max(net.workload.horizon + 1))],
    })
}

fn too_much_work(net: &Network<'_>, resource: usize) -> Option<Reason> {
    let periods = net.workload.resources[resource].periods.iter();
    let supply: Time = periods
        .map(|p| Time::from(p.units) * (p.window.to - p.window.from))
        .sum();
    let work = |step: usize| net.demand(step, resource) as Time * net.duration[step];
    let short_by = (0..net.n()).map(work).sum::<Time>() - supply;
    (short_by > 0).then(|| Reason {
        obstacle: Obstacle::TooMuchWork { resource, short_by },
        remedies: vec![Remedy::MoreTime {
            resource,
            time: short_by,
        }],
    })
}

/// Spaces whose deadlines no schedule can keep.
pub(super) fn deadlines(net: &Network<'_>, reach: &Reach) -> Vec<Reason> {
    let late = net
        .workload
        .spaces
        .iter()
        .enumerate()
        .filter_map(|(at, space)| {
            let deadline = space.deadline?;
            let end = |step: &usize| reach.head[*step] + net.duration[*step];
            let last = *space
                .opens_after
                .iter()
                .max_by_key(|step| (end(step), **step))?;
            let earliest = end(&last);
            (earliest > deadline).then(|| {
                let chain = chain_before(net, &reach.head, last);
                let mut windows = chain.iter().filter_map(|step| {
                    let open = net.open(*step)?;
                    open.0
                        .iter()
                        .find(|w| w.to >= reach.head[*step] + net.duration[*step])
                        .copied()
                });
                Reason {
                    obstacle: Obstacle::Deadline {
                        space: at,
                        window: windows.next_back(),
                        chain,
                        short_by: earliest - deadline,
                    },
                    remedies: vec![Remedy::Until(earliest)],
                }
            })
        });
    late.collect()
}
