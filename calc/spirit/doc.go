// Package spirit is the arithmetic of ethanol and water: density and strength
// on every scale, true proof, gauging, reduction, blending, obscuration and
// liqueurs.
package spirit
