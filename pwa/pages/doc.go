// Package pages renders what people see, on the server and on the phone alike.
//
// Promises:
//   - [Render] is a pure function of a path and a [Source]: the server's source
//     reads its store, the phone's source its own copy, and both get the same
//     markup. It never fails; what is not there is a page that says so;
//   - a page says what to do next: the next step, or what holds this one and where
//     to put that right, or who may do it;
//   - what follows from the plan as a whole (wiring, rack, sound) has a page each,
//     and every figure on it opens to its formula, inputs, source and trust mark;
//   - at a step the numbers to aim at come first, then the cautions, the form, the
//     verdict under the numbers, and the drawing;
//   - a photo says where it is: here, not sent yet, or on its way;
//   - every control has a label, every id is there once, nothing is told by colour
//     alone, and no attribute needs a policy that allows inline styles or scripts.
//
// Forms are plain HTML. On the phone a small script hands what is typed to [Draft],
// which judges it, and what is saved to [Submit], which makes an entry's body of it
// or names the fields that are wrong. What they leave for the script to find are
// the ids verdict, elevation and p- followed by a field's name, and data-form on
// each form.
//
// Imports go to checklist, compute and pwa/drawing, pwa/markup. No rule of the
// domain is decided here: a page shows what checklist says.
package pages
