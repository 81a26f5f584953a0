package picture_test

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/picture"
)

// drawn is a picture as Go's own encoder writes it.
func drawn(t testing.TB, width, height int) []byte {
	m := image.NewRGBA(image.Rect(0, 0, width, height))
	random := rand.New(rand.NewPCG(uint64(width), uint64(height)))
	for y := range height {
		for x := range width {
			m.Set(x, y, color.RGBA{uint8(x), uint8(y), uint8(random.IntN(256)), 255})
		}
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, m, nil))
	return b.Bytes()
}

// part is a segment with its marker and length.
func part(marker byte, data string) []byte {
	return append(binary.BigEndian.AppendUint16([]byte{0xff, marker}, uint16(len(data)+2)), data...)
}

// with puts parts behind the start of a picture.
func with(data []byte, parts ...[]byte) []byte {
	return append(append(append([]byte{}, data[:2]...), bytes.Join(parts, nil)...), data[2:]...)
}

// place is what a camera writes: "Exif", a TIFF header, one directory that points
// to a directory of the place (tag 0x8825) with one entry, the latitude's reference.
const place = "Exif\x00\x00MM\x00\x2a\x00\x00\x00\x08" +
	"\x00\x01\x88\x25\x00\x04\x00\x00\x00\x01\x00\x00\x00\x1a\x00\x00\x00\x00" +
	"\x00\x01\x00\x01\x00\x02\x00\x00\x00\x02N\x00\x00\x00\x00\x00\x00\x00"

// The sizes are those that Go's own decoder reads.
func TestCheck_Size(t *testing.T) {
	for _, size := range [][2]int{{1, 1}, {7, 3}, {64, 48}, {333, 17}} {
		data := drawn(t, size[0], size[1])
		want, err := jpeg.DecodeConfig(bytes.NewReader(data))
		require.NoError(t, err)
		width, height, err := picture.Check(data)
		require.NoError(t, err)
		assert.Equal(t, [2]int{want.Width, want.Height}, [2]int{width, height})
		assert.Equal(t, size, [2]int{width, height})
	}
	grey := image.NewGray(image.Rect(0, 0, 5, 4))
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, grey, nil))
	_, _, err := picture.Check(b.Bytes())
	assert.NoError(t, err)
}

// What Plain leaves shows the same picture, pixel for pixel, and Check takes it.
func TestPlain(t *testing.T) {
	data := drawn(t, 40, 30)
	density := part(0xe0, "JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00")
	small := part(0xe0, "JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x01\x01abc")
	for name, row := range map[string]struct{ in, want []byte }{
		"nothing else":           {data, data},
		"a density":              {with(data, density), with(data, density)},
		"a density with picture": {with(data, small), data},
		"a place":                {with(data, part(0xe1, place)), data},
		"a colour profile":       {with(data, part(0xe2, "ICC_PROFILE\x00\x01\x01 and so on")), data},
		"a comment":              {with(data, part(0xfe, "taken by somebody")), data},
		"several":                {with(data, density, part(0xe1, place), part(0xed, "more"), part(0xe1, "http://ns.example/xap/1.0/\x00<x/>")), with(data, density)},
		"fill bytes":             {with(data, []byte{0xff, 0xff}), data},
		"something at its end":   {append(bytes.Clone(data), "PK\x03\x04 an archive"...), data},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := picture.Plain(row.in)
			require.NoError(t, err)
			assert.Equal(t, row.want, got)
			assert.NotContains(t, string(got), "Exif")
			_, _, err = picture.Check(got)
			require.NoError(t, err)
			a, err := jpeg.Decode(bytes.NewReader(data))
			require.NoError(t, err)
			b, err := jpeg.Decode(bytes.NewReader(got))
			require.NoError(t, err)
			assert.Equal(t, a.(*image.YCbCr).Y, b.(*image.YCbCr).Y)
		})
	}
}

func TestCheck_Refuses(t *testing.T) {
	data := drawn(t, 40, 30)
	four := bytes.Replace(bytes.Clone(data), []byte{0xff, 0xc0}, []byte{0xff, 0xc9}, 1)
	for name, row := range map[string]struct {
		in   []byte
		says string
	}{
		"nothing":                 {nil, "not a JPEG file"},
		"a page":                  {[]byte("<html><script>alert(1)</script>"), "not a JPEG file"},
		"a drawing with a script": {[]byte(`<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>`), "not a JPEG file"},
		"the beginning alone":     {data[:2], "cut short"},
		"half of it":              {data[:len(data)/2], "cut short"},
		"without its last marker": {data[:len(data)-2], "cut short"},
		"a place":                 {with(data, part(0xe1, place)), "place, time and itself"},
		"a comment":               {with(data, part(0xfe, "x")), "a comment"},
		"a profile":               {with(data, part(0xe2, "ICC_PROFILE\x00")), "application data (segment 2)"},
		"a place further down":    {append(append(bytes.Clone(data[:len(data)-2]), part(0xe1, place)...), 0xff, 0xd9), "place, time and itself"},
		"something at its end":    {append(bytes.Clone(data), 'x'), "1 bytes come after its end"},
		"arithmetic coding":       {four, "a part of kind c9"},
		"a length beyond its end": {append(bytes.Clone(data[:2]), 0xff, 0xdb, 0xff, 0xff, 1), "cut short"},
		"no picture":              {append(bytes.Clone(data[:2]), 0xff, 0xd9), "no picture"},
	} {
		t.Run(name, func(t *testing.T) {
			_, _, err := picture.Check(row.in)
			require.ErrorIs(t, err, picture.ErrPicture)
			assert.ErrorContains(t, err, row.says)
		})
	}
}

// FuzzPlain: no input makes it fail in another way than by an error; what comes out
// is never longer, holds to its own rules, and comes out of itself again.
func FuzzPlain(f *testing.F) {
	data := drawn(f, 16, 8)
	f.Add(data)
	f.Add(with(data, part(0xe1, place), []byte{0xff, 0xff}))
	f.Add(append(bytes.Clone(data), 0xff, 0xd0, 0))
	f.Fuzz(func(t *testing.T, in []byte) {
		plain, err := picture.Plain(in)
		width, height, checked := picture.Check(in)
		if checked == nil {
			require.NoError(t, err)
			require.True(t, width > 0 && height > 0)
		}
		if err != nil {
			require.ErrorIs(t, err, picture.ErrPicture)
			return
		}
		require.LessOrEqual(t, len(plain), len(in))
		again, err := picture.Plain(plain)
		require.NoError(t, err)
		require.Equal(t, plain, again)
	})
}
