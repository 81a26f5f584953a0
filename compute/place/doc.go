// Package place is the geometry of a room: where a point is, in which direction and how far a listener sees it, where a
// loudspeaker ends up when its bracket is screwed to a spot on a surface, and which spots are allowed. A room is a list of
// surfaces, which a box with slopes, breasts, columns and alcoves in it makes ([ShapedBox]); whether the lengths read on its
// floor go together, and how square they make it, is told by [Floor].
//
// Room frame: origin on the finished floor in the rear-left corner as seen by someone facing the front; x to the right,
// y to the front, z up (the axes of ITU-R BS.2076). Lengths are metres, angles radians. Azimuth is positive to the left
// (anticlockwise seen from above), 0 straight ahead; elevation is positive up, measured from the horizontal plane
// through the ear point.
//
// Guarantees: what is built by a constructor or passes a Check is finite, and from finite input every function returns
// finite numbers or an error that names what was read. Angles come out in (-π, π], elevations in [-π/2, π/2]. What
// decides whether a place is allowed is compared in whole micrometres, so that the same rules give the same answer on
// processors whose floating point differs in the last bit.
//
// It does not know what the published layouts permit (package layout does), what a measurement is worth (package gauge)
// or what holds a bracket (package fixing). The conversion of ITU-R BS.2127 between polar positions and a cube is not a
// change of coordinates and is not here: it must never place hardware.
package place
