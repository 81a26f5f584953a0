// Package drawing makes the drawings of a job as SVG: the elevation of one
// surface with what is planned on it and what was measured ([Wall]), the room from
// above and from the side with the angles and distances from a listening position
// ([PlanView], [SideView]), how the loudspeakers are fed ([WiringView]) and the rack
// ([RackView]). All but the first draw an unfinished plan as far as it goes.
//
// Promises:
//   - elevations and the room's drawings are to scale; an elevation is seen by someone
//     who faces the surface from inside the room: along runs to the right and up runs
//     up, on a ceiling too, where it is what one sees facing the front wall and looking
//     overhead;
//   - angles and distances are those of the acoustic centre, true in space: a plan and a
//     section show them foreshortened and write them as they are;
//   - at 360 CSS pixels' width no text is smaller than 12 pixels, and no label
//     covers another; one that finds no room stands below the picture instead;
//   - what was planned, what was measured and how it was judged differ in shape
//     and word, not in colour alone;
//   - a drawing carries a title and a description that say the same in words;
//   - with Handles a mount's mark can be moved by a script that knows nothing of rooms,
//     see below;
//   - classes and presentation attributes only: a page that forbids inline styles
//     shows it as it is, and the style sheet gives light and dark.
//
// # Marks that can be moved
//
// With Handles the svg element carries
//
//	data-per-metre="60.0000"  units of its viewBox to the metre
//	data-zero="46 388"        where on the sheet both coordinates are zero
//	data-right="along"        the coordinate that grows to the right
//	data-up="up"              the coordinate that grows upward
//
// and each mount's mark is a group with data-drag="M+030", its channel, that holds the
// mark and a disc of class "handle", which is not seen and at least 44 CSS pixels
// across. The sheet's y runs downward, so that a pointer moved by (dx, dy) units of the
// viewBox moved the mount by dx/per-metre in data-right and by -dy/per-metre in data-up.
// A script takes the pointer from CSS pixels to the viewBox with the svg's own screen
// matrix, gives the group a transform while it is moved, and reports channel and metres;
// what becomes of them is decided elsewhere, and the drawing is made anew. Where two
// discs overlap, the later lies on top: that of the mount in question is the last.
//
// It decides nothing: verdicts come with the spots.
package drawing
