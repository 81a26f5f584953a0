// Package digest is SHA-256 (FIPS 180-4) for what runs on a phone too.
//
// Everywhere but in the browser it is the standard library's. That one brings ciphers
// and self-tests with it which nothing here calls: 41 kB of 1.6 MB that a phone
// downloads (Go 1.26.8, brotli). In the browser it is therefore written out here, and
// tests hold it to the library's and to published values.
package digest
