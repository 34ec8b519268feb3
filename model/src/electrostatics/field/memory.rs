//! Kernels kept from call to call.
//!
//! A kernel depends on the stack alone, and successive questions are mostly about the same stack. Preparing one is
//! deterministic, so an answer has the same bits whether its kernel was kept or made anew.
//!
//! * gives: a shared [`Kernel`]
//! * needs: the stack and the planes
//! * assumptions: few stacks at a time; the least recently used one of [`MOST_KEPT`] goes first
//! * errors: none
//! * example: two pads on one felt share one kernel

use super::kept::{Kept, Key};
use super::kernel::Kernel;
use super::layers::{Layers, Planes};
use std::sync::Arc;

/// Kernels kept, of about 30 KiB each.
const MOST_KEPT: usize = 64;

static KERNELS: Kept<Arc<Kernel>, MOST_KEPT> = Kept::new();

/// The kernel of a stack between two planes, kept or new.
pub(in crate::electrostatics) fn kernel(layers: &Layers, planes: Planes) -> Arc<Kernel> {
    let mut key: Key = layers.fingerprint().into_iter().collect();
    key.push(planes as u64);
    KERNELS.get(key, || Arc::new(Kernel::new(layers, planes)))
}

#[cfg(test)]
mod tests {
    use super::super::super::{Ground, Layer, Medium};
    use super::*;

    fn layers(thickness_m: f64) -> Layers {
        let base = [Layer { thickness_m, relative_permittivity: 1.4 }];
        Layers::new(&Medium { ground: Ground::Plane, base: &base, overlay: &[] }, None)
    }

    #[test]
    fn kept_or_new_a_kernel_has_the_same_bits() {
        let stack = layers(3.25e-3);
        let first = kernel(&stack, Planes::Stitched);
        let again = kernel(&stack, Planes::Stitched);
        let new = Kernel::new(&stack, Planes::Stitched);
        for other in [&*again, &new] {
            assert_eq!(first.terms(), other.terms());
            for rho_squared in [1e-9_f64, 2.5e-5, 0.3] {
                assert_eq!(first.at(rho_squared).to_bits(), other.at(rho_squared).to_bits());
            }
        }
    }

    #[test]
    fn the_memory_is_bounded_and_tells_stacks_and_planes_apart() {
        for i in 0..2 * MOST_KEPT {
            let stack = layers(1e-3 + 1e-6 * i as f64);
            assert_eq!(kernel(&stack, Planes::Stitched).terms(), Kernel::new(&stack, Planes::Stitched).terms());
            assert_eq!(kernel(&stack, Planes::Top).terms(), Kernel::new(&stack, Planes::Top).terms());
        }
        assert!(KERNELS.count() <= MOST_KEPT);
    }
}
