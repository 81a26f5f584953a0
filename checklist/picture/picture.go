package picture

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"strings"
)

// ErrPicture is wrapped by every complaint about a file; what follows it is for a person.
var ErrPicture = errors.New("picture")

func wrong(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrPicture, fmt.Sprintf(format, args...))
}

// Reason is what a complaint says, for a sentence that names the picture itself.
func Reason(err error) string { return strings.TrimPrefix(err.Error(), ErrPicture.Error()+": ") }

// The markers that matter here (T.81 table B.1).
const (
	markerSOF0 = 0xc0 // baseline
	markerSOF1 = 0xc1 // extended sequential
	markerSOF2 = 0xc2 // progressive
	markerDHT  = 0xc4
	markerRST0 = 0xd0
	markerRST7 = 0xd7
	markerSOI  = 0xd8
	markerEOI  = 0xd9
	markerSOS  = 0xda
	markerDQT  = 0xdb
	markerDRI  = 0xdd
	markerAPP0 = 0xe0
	markerAPPF = 0xef
	markerCOM  = 0xfe
)

// density begins the one application segment that stays, which says how to read the
// colours; in this length it has no room for a small picture (ITU-T T.871 10.1).
const (
	density       = "JFIF\x00"
	densityLength = 14
)

// A segment of a file: a marker with its parameters and, after the start of a scan,
// the coded data up to the next marker.
type segment struct {
	marker byte
	data   []byte // parameters, without marker and length
	coded  []byte
}

// belongs tells whether the picture needs the segment.
func (s segment) belongs() bool {
	switch s.marker {
	case markerSOF0, markerSOF1, markerSOF2, markerDHT, markerSOS, markerDQT, markerDRI:
		return true
	case markerAPP0:
		return len(s.data) == densityLength && bytes.HasPrefix(s.data, []byte(density))
	}
	return false
}

// name says what a segment is that does not belong.
func (s segment) name() string {
	switch {
	case s.marker == markerCOM:
		return "a comment"
	case s.marker == markerAPP0+1:
		return "what a camera notes about place, time and itself"
	case s.marker >= markerAPP0 && s.marker <= markerAPPF:
		return fmt.Sprintf("application data (segment %d)", s.marker-markerAPP0)
	}
	return fmt.Sprintf("a part of kind %02x", s.marker)
}

// walk gives every segment between the start and the end of the picture, and what
// comes after the end.
func walk(data []byte, each func(segment) error) (after []byte, err error) {
	if len(data) < 2 || data[0] != 0xff || data[1] != markerSOI {
		return nil, wrong("it is not a JPEG file")
	}
	rest := data[2:]
	for {
		if len(rest) < 2 || rest[0] != 0xff {
			return nil, wrong("it is cut short or damaged")
		}
		for len(rest) > 1 && rest[1] == 0xff { // fill bytes
			rest = rest[1:]
		}
		if len(rest) < 2 {
			return nil, wrong("it is cut short or damaged")
		}
		s := segment{marker: rest[1]}
		rest = rest[2:]
		if s.marker == markerEOI {
			return rest, nil
		}
		if s.marker < markerSOF0 || s.marker >= markerRST0 && s.marker <= markerSOI || len(rest) < 2 {
			return nil, wrong("it is cut short or damaged")
		}
		length := int(binary.BigEndian.Uint16(rest))
		if length < 2 || length > len(rest) {
			return nil, wrong("it is cut short or damaged")
		}
		s.data, rest = rest[2:length], rest[length:]
		if s.marker == markerSOS {
			n := coded(rest)
			s.coded, rest = rest[:n], rest[n:]
		}
		if err := each(s); err != nil {
			return nil, err
		}
	}
}

// coded is the length of the coded data at the beginning: up to a marker that is
// neither a stuffed byte nor a restart.
func coded(data []byte) int {
	for i := 0; ; {
		at := bytes.IndexByte(data[i:], 0xff)
		if at < 0 || i+at+1 >= len(data) {
			return len(data)
		}
		i += at
		if next := data[i+1]; next != 0 && (next < markerRST0 || next > markerRST7) {
			return i
		}
		i += 2
	}
}

// Plain is the same picture without anything else in its file.
func Plain(data []byte) ([]byte, error) {
	plain := append(make([]byte, 0, len(data)), 0xff, markerSOI)
	_, err := walk(data, func(s segment) error {
		if !s.belongs() {
			return nil
		}
		plain = append(plain, 0xff, s.marker)
		plain = binary.BigEndian.AppendUint16(plain, uint16(len(s.data)+2))
		plain = append(append(plain, s.data...), s.coded...)
		return nil
	})
	return append(plain, 0xff, markerEOI), err
}

// Check refuses a file that is not a whole picture and nothing else, and gives its
// size in pixels. It takes pictures of 8 bits in grey or three colours.
func Check(data []byte) (width, height int, err error) {
	scans := 0
	after, err := walk(data, func(s segment) error {
		switch {
		case !s.belongs():
			return wrong("it has %s in it, and a photo of a record has nothing but the picture", s.name())
		case s.marker == markerSOS && width == 0:
			return wrong("its size comes after its beginning")
		case s.marker == markerSOS:
			scans++
		case s.marker == markerSOF0 || s.marker == markerSOF1 || s.marker == markerSOF2:
			if width != 0 {
				return wrong("it has two sizes")
			}
			if len(s.data) < 6 || s.data[0] != 8 || s.data[5] != 1 && s.data[5] != 3 || len(s.data) != 6+3*int(s.data[5]) {
				return wrong("it is not in grey or three colours of 8 bits")
			}
			height, width = int(binary.BigEndian.Uint16(s.data[1:])), int(binary.BigEndian.Uint16(s.data[3:]))
			if width == 0 || height == 0 {
				return wrong("its size is not told at its beginning")
			}
		}
		return nil
	})
	switch {
	case err != nil:
		return 0, 0, err
	case scans == 0:
		return 0, 0, wrong("there is no picture in it")
	case len(after) > 0:
		return 0, 0, wrong("%d bytes come after its end", len(after))
	}
	return width, height, nil
}
