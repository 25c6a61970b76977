//! `Vec3`: three components of any [`Real`], with the few products the equations need.
//!
//! A vector library would do outside the lanes; inside them every operation must be inlined
//! into the function that is compiled for wide instructions.

use super::real::Real;
use std::ops::{Add, Neg, Sub};

/// A vector in three dimensions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vec3<R> {
    /// First component.
    pub x: R,
    /// Second component.
    pub y: R,
    /// Third component, along the spin axis in a body-centred frame.
    pub z: R,
}

impl<R: Real> Vec3<R> {
    /// A vector of its components.
    #[inline(always)]
    pub fn new(x: R, y: R, z: R) -> Self {
        Self { x, y, z }
    }
    /// Scalar product.
    #[inline(always)]
    pub fn dot(self, other: Self) -> R {
        self.x
            .mul_add(other.x, self.y.mul_add(other.y, self.z * other.z))
    }
    /// Vector product.
    #[inline(always)]
    #[must_use]
    pub fn cross(self, other: Self) -> Self {
        Self {
            x: self.y.mul_add(other.z, -(self.z * other.y)),
            y: self.z.mul_add(other.x, -(self.x * other.z)),
            z: self.x.mul_add(other.y, -(self.y * other.x)),
        }
    }
    /// Product with a number.
    #[inline(always)]
    #[must_use]
    pub fn scale(self, factor: R) -> Self {
        Self {
            x: self.x * factor,
            y: self.y * factor,
            z: self.z * factor,
        }
    }
    /// `self · factor + other`, each component rounded once.
    #[inline(always)]
    #[must_use]
    pub fn scale_add(self, factor: R, other: Self) -> Self {
        Self {
            x: self.x.mul_add(factor, other.x),
            y: self.y.mul_add(factor, other.y),
            z: self.z.mul_add(factor, other.z),
        }
    }
    /// Length.
    #[inline(always)]
    pub fn norm(self) -> R {
        self.dot(self).sqrt()
    }
    /// The vector of length 1 in the same direction; NaN for the zero vector.
    #[inline(always)]
    #[must_use]
    pub fn unit(self) -> Self {
        self.scale(R::splat(1.0) / self.norm())
    }
}

impl<R: Real> Add for Vec3<R> {
    type Output = Self;
    #[inline(always)]
    fn add(self, other: Self) -> Self {
        Self::new(self.x + other.x, self.y + other.y, self.z + other.z)
    }
}

impl<R: Real> Sub for Vec3<R> {
    type Output = Self;
    #[inline(always)]
    fn sub(self, other: Self) -> Self {
        Self::new(self.x - other.x, self.y - other.y, self.z - other.z)
    }
}

impl<R: Real> Neg for Vec3<R> {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        Self::new(-self.x, -self.y, -self.z)
    }
}
