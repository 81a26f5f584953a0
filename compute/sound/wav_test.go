package sound_test

import (
	"bytes"
	"encoding/binary"
	"encoding/hex"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/compute/sound"
)

// These files were written by the wave module of Python's standard library.
const (
	mono16   = "524946462c00000057415645666d7420100000000100010080bb000000770100020010006461746108000000000000400080ff7f"
	stereo24 = "524946463600000057415645666d7420100000000100020044ac000098090400060018006461746112000000010000ffffff000040000080ffff7f020000"
	mono32   = "524946463000000057415645666d7420100000000100010000770100" + "00dc050004002000646174610c0000000000004000000080ffffff7f"
)

func fromHex(t *testing.T, s string) []byte {
	t.Helper()
	data, err := hex.DecodeString(s)
	require.NoError(t, err)
	return data
}

func TestReadWAV_FilesWrittenElsewhere(t *testing.T) {
	for _, row := range []struct {
		name, file string
		channel    int
		rate       float64
		want       []float64
	}{
		{"16 bit mono", mono16, 0, 48000, []float64{0, 0.5, -1, 32767.0 / 32768}},
		{"16 bit mono by number", mono16, 1, 48000, []float64{0, 0.5, -1, 32767.0 / 32768}},
		{"24 bit left", stereo24, 1, 44100, []float64{1.0 / 8388608, 0.5, 8388607.0 / 8388608}},
		{"24 bit right", stereo24, 2, 44100, []float64{-1.0 / 8388608, -1, 2.0 / 8388608}},
		{"32 bit mono", mono32, 0, 96000, []float64{0.5, -1, 2147483647.0 / 2147483648}},
	} {
		t.Run(row.name, func(t *testing.T) {
			r, err := sound.ReadWAV(fromHex(t, row.file), row.channel)
			require.NoError(t, err)
			assert.Equal(t, row.rate, r.Rate)
			assert.Equal(t, row.want, r.Samples)
		})
	}
}

// wave describes a file to write for a test; the header follows from it.
type wave struct {
	tag, channels, bits uint16
	rate                uint32
	extensible          bool
	data                []byte
	before              []byte // chunks before the samples
}

func (w wave) bytes() []byte {
	var body bytes.Buffer
	put := func(v any) {
		if err := binary.Write(&body, binary.LittleEndian, v); err != nil {
			panic(err)
		}
	}
	block := w.channels * w.bits / 8
	size, tag := uint32(16), w.tag
	if w.extensible {
		size, tag = 40, 0xFFFE
	}
	body.WriteString("WAVEfmt ")
	put(size)
	for _, v := range []any{tag, w.channels, w.rate, w.rate * uint32(block), block, w.bits} {
		put(v)
	}
	if w.extensible {
		for _, v := range []any{uint16(22), w.bits, uint32(4), w.tag} {
			put(v)
		}
		body.Write([]byte{0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71})
	}
	body.Write(w.before)
	body.WriteString("data")
	put(uint32(len(w.data)))
	body.Write(w.data)
	if len(w.data)%2 == 1 {
		body.WriteByte(0)
	}
	file := binary.LittleEndian.AppendUint32([]byte("RIFF"), uint32(body.Len()))
	return append(file, body.Bytes()...)
}

func floats(samples ...float32) []byte {
	var out []byte
	for _, x := range samples {
		out = binary.LittleEndian.AppendUint32(out, math.Float32bits(x))
	}
	return out
}

// validBits is an extensible file that claims so many valid bits.
func validBits(bits byte) []byte {
	data := wave{tag: 3, channels: 1, bits: 32, rate: 48000, extensible: true, data: floats(1)}.bytes()
	data[38] = bits
	return data
}

func TestReadWAV_FloatExtensibleAndOtherChunks(t *testing.T) {
	for name, w := range map[string]wave{
		"plain float":           {tag: 3, channels: 1, bits: 32, rate: 48000, data: floats(0.25, -1.5, 0)},
		"extensible float":      {tag: 3, channels: 1, bits: 32, rate: 48000, extensible: true, data: floats(0.25, -1.5, 0)},
		"odd chunk before data": {tag: 3, channels: 1, bits: 32, rate: 48000, before: []byte("LIST\x03\x00\x00\x00abc\x00"), data: floats(0.25, -1.5, 0)},
	} {
		t.Run(name, func(t *testing.T) {
			r, err := sound.ReadWAV(w.bytes(), 0)
			require.NoError(t, err)
			assert.Equal(t, []float64{0.25, -1.5, 0}, r.Samples)
		})
	}
	odd := wave{tag: 1, channels: 1, bits: 24, rate: 48000, data: []byte{1, 0, 0}}.bytes()
	r, err := sound.ReadWAV(odd, 0)
	require.NoError(t, err)
	assert.Equal(t, []float64{1.0 / 8388608}, r.Samples)
}

func TestReadWAV_Refuses(t *testing.T) {
	good := wave{tag: 1, channels: 2, bits: 16, rate: 48000, data: []byte{1, 0, 2, 0, 3, 0, 4, 0}}
	with := func(change func(*wave)) []byte {
		w := good
		change(&w)
		return w.bytes()
	}
	at := func(offset int, b ...byte) []byte {
		data := good.bytes()
		copy(data[offset:], b)
		return data
	}
	require.NotPanics(t, func() { _, _ = sound.ReadWAV(nil, 0) })
	for _, row := range []struct {
		name    string
		data    []byte
		channel int
		err     error
		text    string
	}{
		{"nothing", nil, 1, sound.ErrWAV, "RIFF"},
		{"another kind of file", []byte("ID3 and then some music"), 1, sound.ErrWAV, "RIFF"},
		{"RIFF of something else", []byte("RIFF\x04\x00\x00\x00AVI "), 1, sound.ErrWAV, "WAVE"},
		{"no chunks", []byte("RIFF\x04\x00\x00\x00WAVE"), 1, sound.ErrWAV, "no samples"},
		{"cut off", good.bytes()[:46], 1, sound.ErrLength, "the file has 46"},
		{"size too small", at(4, 10, 0, 0, 0), 1, sound.ErrWAV, "speaks of 18"},
		{"chunk too long", at(40, 200, 0, 0, 0), 1, sound.ErrLength, "200"},
		{"rest too short for a chunk", at(40, 4, 0, 0, 0), 1, sound.ErrWAV, "after the last chunk"},
		{"samples before format", []byte("RIFF\x0c\x00\x00\x00WAVEdata\x00\x00\x00\x00"), 1, sound.ErrWAV, "before their format"},
		{"short format", []byte("RIFF\x0c\x00\x00\x00WAVEfmt \x00\x00\x00\x00"), 1, sound.ErrWAV, "at least 16"},
		{"two formats", with(func(w *wave) { w.before = good.bytes()[12:36] }), 1, sound.ErrWAV, "twice"},
		{"compressed", with(func(w *wave) { w.tag = 2 }), 1, sound.ErrFormat, "kind 2"},
		{"8 bit", with(func(w *wave) { w.bits, w.channels = 8, 1 }), 1, sound.ErrFormat, "8 bits"},
		{"64 bit float", with(func(w *wave) { w.tag, w.bits, w.channels = 3, 64, 1 }), 1, sound.ErrFormat, "64 bits"},
		{"extensible without its part", at(20, 0xFE, 0xFF), 1, sound.ErrFormat, "extensible"},
		{"no channels", at(22, 0, 0), 1, sound.ErrWAV, "0 channels"},
		{"rate 0", at(24, 0, 0, 0, 0), 1, sound.ErrWAV, "sampling rate"},
		{"bytes a second wrong", at(28, 1, 0, 0, 0), 1, sound.ErrWAV, "bytes a second"},
		{"block wrong", at(32, 2, 0), 1, sound.ErrWAV, "blocks of 2"},
		{"half a block", with(func(w *wave) { w.data = w.data[:6] }), 1, sound.ErrLength, "multiple of 4"},
		{"no samples", with(func(w *wave) { w.data = nil }), 1, sound.ErrLength, "no samples"},
		{"channel not chosen", good.bytes(), 0, sound.ErrChannel, "has 2 channels"},
		{"channel 3 of 2", good.bytes(), 3, sound.ErrChannel, "want 1 to 2"},
		{"channel below 0", good.bytes(), -1, sound.ErrChannel, "read -1"},
		{"silence", with(func(w *wave) { w.data = []byte{0, 0, 1, 0, 0, 0, 1, 0} }), 1, sound.ErrSilence, "all 0"},
		{"not a number", wave{tag: 3, channels: 1, bits: 32, rate: 48000, data: floats(1, float32(math.NaN()))}.bytes(), 0, sound.ErrSample, "sample 2"},
		{"infinite", wave{tag: 3, channels: 1, bits: 32, rate: 48000, data: floats(float32(math.Inf(-1)))}.bytes(), 0, sound.ErrSample, "sample 1"},
		{"too many samples", wave{tag: 1, channels: 1, bits: 16, rate: 48000, data: make([]byte, 2*sound.MaxSamples+2)}.bytes(), 0, sound.ErrLength, "6000001 samples"},
		{"valid bits above the container", validBits(33), 0, sound.ErrWAV, "33 valid bits"},
		{"too long", append(good.bytes(), make([]byte, sound.MaxWAV)...), 1, sound.ErrLength, "at most"},
	} {
		t.Run(row.name, func(t *testing.T) {
			r, err := sound.ReadWAV(row.data, row.channel)
			require.ErrorIs(t, err, row.err)
			assert.ErrorContains(t, err, row.text)
			assert.Empty(t, r.Samples)
		})
	}
}

// Samples written as 16-bit numbers come back as themselves.
func TestReadWAV_RoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Int16(), 1, 100).Draw(t, "values")
		values[0] |= 1 // not silent
		var data []byte
		for _, v := range values {
			data = binary.LittleEndian.AppendUint16(data, uint16(v))
		}
		r, err := sound.ReadWAV(wave{tag: 1, channels: 1, bits: 16, rate: 44100, data: data}.bytes(), 0)
		require.NoError(t, err)
		for i, v := range values {
			assert.Equal(t, float64(v), r.Samples[i]*32768)
		}
	})
}

// Whatever the bytes: no panic, and samples that are finite, of which one is not 0, or an error and none.
func FuzzWAV(f *testing.F) {
	for _, file := range []string{mono16, stereo24, mono32} {
		data, err := hex.DecodeString(file)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data, 0)
		f.Add(data, 2)
	}
	f.Add(wave{tag: 3, channels: 1, bits: 32, rate: 48000, extensible: true, data: floats(0.25, -1.5, 0)}.bytes(), 0)
	f.Fuzz(func(t *testing.T, data []byte, channel int) {
		r, err := sound.ReadWAV(data, channel)
		if err != nil {
			if len(r.Samples) != 0 || r.Rate != 0 {
				t.Fatalf("samples beside the error %v", err)
			}
			return
		}
		sounds := false
		for i, x := range r.Samples {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Fatalf("sample %d is %g", i, x)
			}
			sounds = sounds || x != 0
		}
		if !sounds {
			t.Fatal("silence without an error")
		}
		for _, band := range []sound.Band{{}, {Low: 20, High: 1000}} {
			p, err := sound.FirstMotion(sound.Impulse{Recording: r, Band: band})
			if err != nil {
				t.Fatalf("decoded samples refused: %v", err)
			}
			for _, x := range []float64{p.Peak, p.Noise, p.Confidence, p.Time} {
				if math.IsNaN(x) || math.IsInf(x, 0) {
					t.Fatalf("result %+v", p)
				}
			}
			if (p.Polarity == sound.Undetermined) != (p.Reason != "") {
				t.Fatalf("polarity and reason contradict: %+v", p)
			}
		}
	})
}

func BenchmarkReadWAV(b *testing.B) {
	data := make([]byte, 2*3*48000)
	data[0] = 1
	file := wave{tag: 1, channels: 2, bits: 24, rate: 48000, data: data}.bytes()
	b.SetBytes(int64(len(file)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := sound.ReadWAV(file, 1); err != nil {
			b.Fatal(err)
		}
	}
}
