// Package pwa holds what a phone loads: the WebAssembly program, the few
// scripts, the style sheet, icons, manifest and service worker, embedded in the
// binary.
//
// Promises:
//   - every address under /assets/ names its content by a hash and never changes
//     its bytes, so it may be cached for ever;
//   - compressible files are there in brotli and gzip, made when they were built;
//   - the service worker's list and the version name the same set of bytes.
//
// The folder dist is filled by go generate ./pwa and is not in git. Without it
// the package compiles and [Files] returns [ErrNotBuilt].
//
// It serves nothing and knows no HTTP. One page that the service worker keeps is
// not a file: [Shell], which the server renders.
package pwa
