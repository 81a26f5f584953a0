//go:build js && wasm

package main

import (
	"fmt"
	"os"
	"strings"
	"syscall/js"

	"hangtrue/checklist"
	"hangtrue/pwa/phone/engine"
)

func main() {
	if len(os.Args) == 2 && os.Args[1] == "fold" {
		if err := fold(os.Stdin, os.Stdout); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	e := engine.New(checklist.Loudspeakers, browserRandom{})
	call := js.FuncOf(func(_ js.Value, args []js.Value) any {
		if len(args) < 2 || args[0].Type() != js.TypeString || args[1].Type() != js.TypeString {
			return `{"fault":"wanted a command and JSON"}`
		}
		return string(e.Call(args[0].String(), []byte(args[1].String()), texts(args[2:])...))
	})
	js.Global().Call("hangtrueStarted", call)
	select {}
}

// texts are those that a Uint8Array holds, each ended by a byte of 0.
func texts(args []js.Value) []string {
	if len(args) == 0 || args[0].Type() != js.TypeObject {
		return nil
	}
	data := make([]byte, args[0].Get("length").Int())
	js.CopyBytesToGo(data, args[0])
	all := strings.Split(string(data), "\x00")
	return all[:len(all)-1]
}

// browserRandom reads from the browser's own generator, as crypto/rand would.
type browserRandom struct{}

func (browserRandom) Read(p []byte) (int, error) {
	const most = 65536 // what getRandomValues gives at once
	n := min(len(p), most)
	array := js.Global().Get("Uint8Array").New(n)
	js.Global().Get("crypto").Call("getRandomValues", array)
	return js.CopyBytesToGo(p[:n], array), nil
}
