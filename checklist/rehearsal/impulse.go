package rehearsal

import (
	"bytes"
	"encoding/binary"
)

// Impulse is a WAV file of 16-bit samples at 48 kHz, as somebody would record one.
func Impulse(channels int, samples ...int16) []byte {
	var file bytes.Buffer
	put := func(v any) { _ = binary.Write(&file, binary.LittleEndian, v) } // a buffer takes everything
	file.WriteString("RIFF")
	put(uint32(36 + 2*len(samples)))
	file.WriteString("WAVEfmt ")
	put(uint32(16))
	put([]uint16{1, uint16(channels)})
	put([]uint32{48000, 96000 * uint32(channels)})
	put([]uint16{2 * uint16(channels), 16})
	file.WriteString("data")
	put(uint32(2 * len(samples)))
	put(samples)
	return file.Bytes()
}
