// Package rack computes an equipment rack: the space its items take, their weight, heat and air, and what they ask of the
// mains circuit.
//
// Guarantees: bad input gets one error that names the field, what was read and what is wanted; no result is NaN or
// infinite; limits are compared as whole thousandths. Figures carry their source and how far it can be trusted.
//
// It does not choose a circuit and does not replace anyone qualified to: [Caution] is to be shown with every mains figure.
package rack

// Caution is shown with every figure about the mains.
const Caution = "These figures only help to plan: local code and the authority having jurisdiction decide, and mains work is for a licensed electrician."
