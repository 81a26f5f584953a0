// Command build fills pwa/dist with what a phone loads: it compiles the phone's
// program for WebAssembly, takes the script that starts it from the same Go
// toolchain, draws the icons, names everything by its content, compresses it, and
// writes the service worker with the list of it all. It is run by go generate
// ./pwa and uses nothing but the go command.
package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"time"
)

func main() {
	fast := flag.Bool("fast", false, "compress lightly, for tests")
	out := flag.String("out", "dist", "folder to fill")
	static := flag.String("static", "static", "folder of the scripts and the style sheet")
	flag.Parse()
	level := 11
	if *fast {
		level = 4
	}
	began := time.Now()
	files, err := build(*static, *out, level)
	if err != nil {
		fmt.Fprintln(os.Stderr, "build:", err)
		os.Exit(1)
	}
	var raw, packed int
	for _, f := range files {
		if f.later {
			continue
		}
		raw += len(f.content)
		packed += f.smallest()
	}
	fmt.Printf("%s: %d files, a first visit %d bytes, %d in brotli, %.1f s\n", filepath.ToSlash(*out), len(files), raw, packed, time.Since(began).Seconds())
}
