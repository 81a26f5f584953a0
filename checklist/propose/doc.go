// Package propose finds a mount for every loudspeaker of a plan's layout, or says why there is none.
//
// It goes about it as a good installer would. Where the layout's nominal direction meets a surface is the first thought;
// from there it goes to the nearest spot that the layout permits, that the bracket can turn to, that is clear of edges,
// openings and known pipes, on the framing where the fixing needs it, where the cabinet fits and the listener sees it. Bed
// loudspeakers stay at ear height where they can, height loudspeakers go to the ceiling and only else high on a wall, and
// the two of a pair mirror each other at one height. What has no bracket stands on the floor, subwoofers at the front,
// out of the way of doors. Then outputs and amplifier channels are dealt out in the layout's order.
//
// Guarantees: the same plan and the same choices give the same proposal, on every processor, because whole micrometres,
// microradians and a whole cost decide. A proposed spot has a finite place on a surface of the plan, within the permitted
// ranges of the layout (a range of no width widened by the plan's tolerance), within the plan's tolerance of its
// partner's mirror image, clear of everything named above, and not outside in any check of package judge that looks at
// that mount alone, but for what [Spot.Open] says is still missing. A channel without a spot is in [Proposal.Cannot],
// with what is in the way on each surface and what would have to give.
//
// What is taken as known: a cabinet is a box about the loudspeaker's centre of mass, as the plan gives it; a door that
// reaches the floor needs the room its leaf sweeps, to either side. By these figures a cabinet may touch the surface it
// hangs on: such a spot is taken last, and says so. The search goes in steps of 20 mm on a wall, less where the
// permitted directions leave a strip, and 50 mm on a floor, down to the tape's division near what it finds; a place smaller
// than that may be missed.
//
// Only the primary listening position counts. Two loudspeakers of a rule of the layout are placed one after the other, in
// either order, but not both at once.
//
// It approves nothing: a proposal is where to begin, and every check is still to be met on site. It knows no screen,
// file, network or clock.
package propose
