//go:build !(js && wasm)

package main

import (
	"fmt"
	"os"
)

func main() {
	if len(os.Args) == 2 && os.Args[1] == "fold" {
		if err := fold(os.Stdin, os.Stdout); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	fmt.Fprintln(os.Stderr, "This program runs in the browser. Build it with go generate ./pwa.")
	os.Exit(1)
}
