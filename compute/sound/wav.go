package sound

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
)

// Limits of a WAVE file. An impulse response lasts seconds; these allow two minutes at 48 kHz, and keep a phone from running
// out of memory on a wrong file.
const (
	MaxWAV        = 64 << 20  // bytes of the file
	MaxSamples    = 6_000_000 // samples of the chosen channel
	maxWAVChannel = 64        // channels in the file
	minRate       = 4000      // hertz
	maxRate       = 768000    // hertz
)

// Recording is one channel of sound.
type Recording struct {
	Rate    float64   // samples a second
	Samples []float64 // full scale is 1
}

// waveFormat is what the "fmt " chunk says.
type waveFormat struct {
	tag, channels, block, bits int
	rate, byteRate             uint32
}

// The format tags that are read. Extensible files name one of the other two in a GUID.
const (
	tagPCM        = 1
	tagFloat      = 3
	tagExtensible = 0xFFFE
)

// guidTail is what follows the tag in the GUID of an extensible format.
var guidTail = []byte{0x00, 0x00, 0x00, 0x00, 0x10, 0x00, 0x80, 0x00, 0x00, 0xAA, 0x00, 0x38, 0x9B, 0x71}

// ReadWAV reads one channel of a RIFF WAVE file: whole numbers of 16, 24 or 32 bits, or 32-bit floating point, little
// endian, plain or in an extensible header. Channels count from 1; 0 means the only one. Whole numbers are scaled so that
// the most negative is -1; floating-point samples are as they are, and may exceed 1. The layout of the file is from memory,
// not verified.
//
// It is strict, since a polarity is read from it: sizes must agree with one another and with the file. Chunks other than
// "fmt " and "data" are passed over. A single odd byte after the last chunk is allowed.
//
// Errors: [ErrWAV] for a file that is something else or contradicts itself, [ErrFormat] for other kinds of samples,
// [ErrChannel] for a channel that is not there, [ErrLength] for no samples, data cut off, or more than the limits,
// [ErrSample] for floating-point samples that are not finite, [ErrSilence] if all are 0.
func ReadWAV(data []byte, channel int) (Recording, error) {
	if len(data) > MaxWAV {
		return Recording{}, fmt.Errorf("%w: read a file of %d bytes, want at most %d", ErrLength, len(data), MaxWAV)
	}
	format, samples, err := chunks(data)
	if err != nil {
		return Recording{}, err
	}
	index := channel - 1
	switch {
	case channel == 0 && format.channels == 1:
		index = 0
	case channel == 0:
		return Recording{}, fmt.Errorf("%w: the file has %d channels, want one of them chosen", ErrChannel, format.channels)
	case channel < 0 || channel > format.channels:
		return Recording{}, fmt.Errorf("%w: channel: read %d, want 1 to %d", ErrChannel, channel, format.channels)
	}
	if len(samples) == 0 {
		return Recording{}, fmt.Errorf("%w: the file has no samples", ErrLength)
	}
	if len(samples)%format.block != 0 {
		return Recording{}, fmt.Errorf("%w: read %d bytes of samples, want a multiple of %d", ErrLength, len(samples), format.block)
	}
	n := len(samples) / format.block
	if n > MaxSamples {
		return Recording{}, fmt.Errorf("%w: read %d samples, want at most %d", ErrLength, n, MaxSamples)
	}
	r := Recording{Rate: float64(format.rate), Samples: make([]float64, n)}
	decode := format.decoder()
	silent := true
	for i := range r.Samples {
		x := decode(samples[i*format.block+index*format.bits/8:])
		if !finite(x) {
			return Recording{}, fmt.Errorf("%w: sample %d: read %g", ErrSample, i+1, x)
		}
		r.Samples[i] = x
		silent = silent && x == 0
	}
	if silent {
		return Recording{}, fmt.Errorf("%w: read %d samples, all 0", ErrSilence, n)
	}
	return r, nil
}

// chunks finds the format and the bytes of the samples.
func chunks(data []byte) (format waveFormat, samples []byte, err error) {
	if len(data) < 12 || string(data[:4]) != "RIFF" || string(data[8:12]) != "WAVE" {
		return format, nil, fmt.Errorf("%w: want it to begin with RIFF, its size and WAVE", ErrWAV)
	}
	if size := uint64(binary.LittleEndian.Uint32(data[4:])) + 8; size != uint64(len(data)) && size+1 != uint64(len(data)) {
		err := ErrWAV
		if size > uint64(len(data)) {
			err = ErrLength
		}
		return format, nil, fmt.Errorf("%w: the header speaks of %d bytes, the file has %d", err, size, len(data))
	}
	var haveFormat, haveSamples bool
	for rest := data[12:]; len(rest) > 1; {
		if len(rest) < 8 {
			return format, nil, fmt.Errorf("%w: %d bytes after the last chunk, want none", ErrWAV, len(rest))
		}
		name, size := string(rest[:4]), uint64(binary.LittleEndian.Uint32(rest[4:]))
		if size > uint64(len(rest)-8) {
			return format, nil, fmt.Errorf("%w: chunk %q speaks of %d bytes, %d are left", ErrLength, name, size, len(rest)-8)
		}
		body := rest[8 : 8+size]
		switch {
		case name == "fmt " && haveFormat, name == "data" && haveSamples:
			return format, nil, fmt.Errorf("%w: chunk %q twice", ErrWAV, name)
		case name == "fmt ":
			if format, err = parseFormat(body); err != nil {
				return format, nil, err
			}
			haveFormat = true
		case name == "data":
			if !haveFormat {
				return format, nil, fmt.Errorf("%w: samples before their format", ErrWAV)
			}
			samples, haveSamples = body, true
		}
		// Chunks start at even places.
		next := 8 + size + size%2
		rest = rest[min(next, uint64(len(rest))):]
	}
	if !haveSamples {
		return format, nil, fmt.Errorf("%w: no samples in it", ErrWAV)
	}
	return format, samples, nil
}

func parseFormat(body []byte) (waveFormat, error) {
	if len(body) < 16 {
		return waveFormat{}, fmt.Errorf("%w: format of %d bytes, want at least 16", ErrWAV, len(body))
	}
	short := func(at int) int { return int(binary.LittleEndian.Uint16(body[at:])) }
	f := waveFormat{
		tag: short(0), channels: short(2), block: short(12), bits: short(14),
		rate: binary.LittleEndian.Uint32(body[4:]), byteRate: binary.LittleEndian.Uint32(body[8:]),
	}
	if f.tag == tagExtensible {
		if len(body) < 40 || short(16) < 22 || !bytes.Equal(body[26:40], guidTail) {
			return f, fmt.Errorf("%w: extensible format without a kind that is read here", ErrFormat)
		}
		if valid := short(18); valid < 1 || valid > f.bits {
			return f, fmt.Errorf("%w: %d valid bits in samples of %d", ErrWAV, valid, f.bits)
		}
		f.tag = short(24)
	}
	switch {
	case f.tag == tagPCM && (f.bits == 16 || f.bits == 24 || f.bits == 32), f.tag == tagFloat && f.bits == 32:
	default:
		return f, fmt.Errorf("%w: read kind %d with %d bits, want whole numbers (1) of 16, 24 or 32 bits or floating point (3) of 32",
			ErrFormat, f.tag, f.bits)
	}
	if f.channels < 1 || f.channels > maxWAVChannel {
		return f, fmt.Errorf("%w: read %d channels, want 1 to %d", ErrWAV, f.channels, maxWAVChannel)
	}
	if f.rate < minRate || f.rate > maxRate {
		return f, fmt.Errorf("%w: sampling rate: read %d Hz, want %d to %d", ErrWAV, f.rate, minRate, maxRate)
	}
	if f.block != f.channels*f.bits/8 || uint64(f.byteRate) != uint64(f.rate)*uint64(f.block) {
		return f, fmt.Errorf("%w: %d channels of %d bits at %d Hz do not make blocks of %d bytes and %d bytes a second",
			ErrWAV, f.channels, f.bits, f.rate, f.block, f.byteRate)
	}
	return f, nil
}

// decoder reads the sample at the start of a slice.
func (f waveFormat) decoder() func([]byte) float64 {
	switch {
	case f.tag == tagFloat:
		return func(b []byte) float64 { return float64(math.Float32frombits(binary.LittleEndian.Uint32(b))) }
	case f.bits == 16:
		return func(b []byte) float64 { return float64(int16(binary.LittleEndian.Uint16(b))) / (1 << 15) }
	case f.bits == 24:
		return func(b []byte) float64 {
			// Into the top of 32 bits, so that the sign comes along.
			return float64(int32(uint32(b[0])<<8|uint32(b[1])<<16|uint32(b[2])<<24)) / (1 << 31)
		}
	default:
		return func(b []byte) float64 { return float64(int32(binary.LittleEndian.Uint32(b))) / (1 << 31) }
	}
}
