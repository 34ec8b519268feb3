//! A network of resistors between two terminals, nodes numbered so that neighbours have near numbers.
//!
//! Gives conductances (S), potentials (V) and currents (A) of what the ladders of runs and the fills of pads are made
//! of. Nodes are eliminated one after the other by the star-mesh rule: taking out a node with conductances g_1 .. g_m
//! joins every pair of its neighbours with g_i g_j / sum g. Nothing is ever subtracted, so that every conductance comes
//! out with nearly all its digits even where contacts and threads differ by ten decades.
//! Inputs: conductances of 0 or more, S; a network between the terminals.
//! Source: A. Rosen, A new network theorem, J. IEE 62 (1924) 916; the same elimination for chains of states: Grassmann,
//! Taksar & Heyman, Operations Research 33 (1985) 1107 (both from memory).
//! Accuracy: some 1e-16 times the number of nodes in the conductance, whatever the conductances (against tables of 40
//! digits: below 1e-11, which is their own rounding).
//! Errors: none; a node that nothing holds keeps the potential 0, and terminals that nothing joins conduct 0.
//! Example: two resistors of 1 ohm in a row: `join(Source, Inner(0), 1)`, `join(Inner(0), Sink, 1)` conduct 0.5 S.

/// An end of a resistor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Node {
    /// The terminal at which current enters.
    Source,
    /// The terminal at which it leaves.
    Sink,
    /// A node in between, by its number.
    Inner(usize),
}

/// Resistors between numbered nodes and two terminals.
#[derive(Debug, Clone)]
pub(crate) struct Network {
    nodes: usize,
    band: usize,
    /// Conductance from node k to node k + 1 + d, at `k * band + d`.
    between: Vec<f64>,
    to_source: Vec<f64>,
    to_sink: Vec<f64>,
    across: f64,
}

impl Network {
    /// `nodes` nodes that nothing joins yet; joined nodes may differ by `band` in their numbers at the most.
    pub(crate) fn new(nodes: usize, band: usize) -> Self {
        Self { nodes, band, between: vec![0.0; nodes * band], to_source: vec![0.0; nodes], to_sink: vec![0.0; nodes], across: 0.0 }
    }

    /// Adds a resistor of conductance `siemens` beside what is there already.
    pub(crate) fn join(&mut self, a: Node, b: Node, siemens: f64) {
        match (a, b) {
            (Node::Source, Node::Sink) | (Node::Sink, Node::Source) => self.across += siemens,
            (Node::Source, Node::Inner(k)) | (Node::Inner(k), Node::Source) => self.to_source[k] += siemens,
            (Node::Sink, Node::Inner(k)) | (Node::Inner(k), Node::Sink) => self.to_sink[k] += siemens,
            (Node::Inner(i), Node::Inner(j)) if i != j => {
                let (low, high) = (i.min(j), i.max(j));
                self.between[low * self.band + high - low - 1] += siemens;
            }
            _ => {}
        }
    }

    /// Takes out every node.
    pub(crate) fn eliminated(mut self) -> Eliminated {
        let mut total = vec![0.0; self.nodes];
        for (k, total) in total.iter_mut().enumerate() {
            let reach = self.band.min(self.nodes - 1 - k);
            let (own, later) = self.between[k * self.band..].split_at_mut(self.band);
            let own = &own[..reach];
            let (source, sink) = (self.to_source[k], self.to_sink[k]);
            let sum = own.iter().sum::<f64>() + source + sink;
            *total = sum;
            if sum <= 0.0 {
                continue;
            }
            self.across += source * sink / sum;
            for (i, g) in own.iter().enumerate().filter(|(_, g)| **g > 0.0) {
                let share = g / sum;
                self.to_source[k + 1 + i] += share * source;
                self.to_sink[k + 1 + i] += share * sink;
                // Row of the neighbour k + 1 + i; the others follow it at distances of 1 and more.
                let row = &mut later[i * self.band..];
                for (g_pair, g_other) in row.iter_mut().zip(&own[i + 1..]) {
                    *g_pair += share * g_other;
                }
            }
        }
        Eliminated { network: self, total }
    }
}

/// A network whose nodes are taken out: what the terminals see of it, and the way back to every node.
#[derive(Debug, Clone)]
pub(crate) struct Eliminated {
    network: Network,
    total: Vec<f64>,
}

impl Eliminated {
    /// Between the terminals, S.
    pub(crate) fn conductance(&self) -> f64 {
        self.network.across
    }

    /// Potentials with the source at 1 V and the sink at 0 V, for the tests of what currents must do.
    #[cfg(test)]
    pub(crate) fn potentials(&self) -> Vec<f64> {
        self.back(|k| self.network.to_source[k])
    }

    /// Potentials where every node is fed `ampere[k]` (0 or more) and both terminals are held at 0 V.
    pub(crate) fn potentials_fed(&self, ampere: &[f64]) -> Vec<f64> {
        let n = &self.network;
        let mut fed = ampere.to_vec();
        for k in 0..n.nodes {
            if self.total[k] > 0.0 {
                let share = fed[k] / self.total[k];
                for d in 0..n.band.min(n.nodes - 1 - k) {
                    fed[k + 1 + d] += share * n.between[k * n.band + d];
                }
            }
        }
        self.back(|k| fed[k])
    }

    /// From the last node to the first: each is a mean of what it is joined to, plus what it is `given`.
    fn back(&self, given: impl Fn(usize) -> f64) -> Vec<f64> {
        let n = &self.network;
        let mut volt = vec![0.0; n.nodes];
        for k in (0..n.nodes).rev() {
            if self.total[k] > 0.0 {
                let reach = n.band.min(n.nodes - 1 - k);
                let row = &n.between[k * n.band..k * n.band + reach];
                let sum = row.iter().zip(&volt[k + 1..]).map(|(g, v)| g * v).sum::<f64>() + given(k);
                volt[k] = sum / self.total[k];
            }
        }
        volt
    }
}

#[cfg(test)]
mod tests {
    use super::Node::{Inner, Sink, Source};
    use super::*;

    #[test]
    fn a_bridge_conducts_as_on_paper() {
        // Arms of 1 and 2 ohm, 2 and 1 ohm, and 1 ohm across the middle: 7/5 ohm.
        let mut bridge = Network::new(2, 1);
        for (a, b, ohm) in
            [(Source, Inner(0), 1.0), (Inner(0), Sink, 2.0), (Source, Inner(1), 2.0), (Inner(1), Sink, 1.0), (Inner(0), Inner(1), 1.0)]
        {
            bridge.join(a, b, 1.0 / ohm);
        }
        let solved = bridge.eliminated();
        assert!((1.0 / solved.conductance() - 1.4).abs() < 1e-15);
        let volt = solved.potentials();
        assert!((volt[0] - 4.0 / 7.0).abs() < 1e-15 && (volt[1] - 3.0 / 7.0).abs() < 1e-15, "{volt:?}");
    }

    #[test]
    fn feeding_a_chain_lifts_it_by_its_resistance() {
        // 1 A into the last of three nodes, each 2 ohm from the one before: 2, 4 and 6 V.
        let mut chain = Network::new(3, 1);
        chain.join(Sink, Inner(0), 0.5);
        chain.join(Inner(0), Inner(1), 0.5);
        chain.join(Inner(1), Inner(2), 0.5);
        assert_eq!(chain.eliminated().potentials_fed(&[0.0, 0.0, 1.0]), [2.0, 4.0, 6.0]);
    }

    #[test]
    fn what_nothing_holds_conducts_nothing() {
        let mut torn = Network::new(3, 2);
        torn.join(Source, Inner(0), 1.0);
        torn.join(Inner(2), Sink, 1.0);
        let solved = torn.eliminated();
        assert_eq!(solved.conductance(), 0.0);
        assert_eq!(solved.potentials(), [1.0, 0.0, 0.0]);
    }
}
