//! Whether and where events go out.

use super::source::Source;

/// The most ports that are allowed.
const MAX_PORTS: usize = 16;

/// The way out.
#[derive(Debug, Clone)]
pub struct OutboundConfig {
    /// `WEARCOURSE_OUTBOUND`, default on: whether this process sends events; if not, they wait for one that does.
    pub is_on: bool,
    /// `WEARCOURSE_OUTBOUND_PORTS`, separated by commas, default 443.
    pub ports: Vec<u16>,
    /// `WEARCOURSE_OUTBOUND_INSECURE`, default off: whether plain HTTP, private addresses and every port may be called.
    pub is_insecure: bool,
}

impl OutboundConfig {
    pub(super) fn from_source(source: &mut Source) -> Self {
        Self {
            is_on: source.switch("WEARCOURSE_OUTBOUND").unwrap_or(true),
            ports: ports(source),
            is_insecure: source
                .switch("WEARCOURSE_OUTBOUND_INSECURE")
                .unwrap_or(false),
        }
    }
}

fn ports(source: &mut Source) -> Vec<u16> {
    let name = "WEARCOURSE_OUTBOUND_PORTS";
    let Some(text) = source.text(name) else {
        return vec![443];
    };
    let ports: Result<Vec<u16>, _> = text.split(',').map(|port| port.trim().parse()).collect();
    match ports {
        Ok(ports) if ports.len() <= MAX_PORTS && !ports.contains(&0) => ports,
        Ok(_) | Err(_) => {
            source.fault(name, "must be 1 to 16 ports, separated by commas");
            Vec::new()
        }
    }
}
