// Package picture reads how a JPEG file is put together (ITU-T T.81 annex B),
// without decoding it.
//
// A camera writes into a file where and when it was taken, with what, and by whom;
// an editor may leave an earlier version in it, and anybody may hang other things
// at its end. A photo of a record has nothing but the picture: [Plain] leaves
// everything else away, [Check] refuses a file that has it.
//
// It does not decode: that the picture can be shown is not promised.
package picture
