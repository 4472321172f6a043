// Package still is the physics of a batch distillation: what comes over, for
// how long, and whether the figures of a run can be true.
//
// It answers in five steps, each usable alone. Vapour over liquid at the day's
// pressure (BoilAt, CompareVapour, Equilibrium); a whole run worked out before
// it is made (Plan, Distil); what the draw log says was collected (Collect); the
// effective plates and reflux of the run so far, and from them where hearts will
// end (Learn, Knowledge.Ahead); and the alcohol balance at its end (Balance).
// Beside them stand heat (HeatUp, Evaporation, CoolingWater), yield (Yield),
// limits by class (ClassLimits), methanol (Methanol) and the room's cautions
// (Cautions), as data with sources.
//
// Liquids are counted in moles while they boil, because a plate exchanges mole
// for mole, and in kilograms and litres of pure alcohol at 20 °C everywhere
// else. Volumes and strengths come from package spirit.
//
// It refuses to say where a run will go while the readings do not bear it, to
// boil what is stronger than the azeotrope, to call heads free of methanol or
// hearts free of anything: congeners are outside its two components. It knows
// no clock, no book and no chance; the uncertainty of a projection is worked
// out, not drawn.
//
// Its one surprise: a plate is an ideal stage above the pot, so a bare pot has
// 0, and where no reflux is known plates are counted as at total reflux, which
// is what an 'effective number of plates' usually means. Without reflux, plates
// change nothing: the vapour leaves as the pot made it.
package still
