package judge

import (
	"fmt"

	"hangtrue/compute/sound"
)

// An ImpulseReading is what a recorded impulse response says about polarity.
type ImpulseReading struct {
	// Choice is the answer of the polarity step that it comes to: right, reversed or unclear.
	Choice string
	Says   string
	Result sound.PolarityResult
}

// MaxImpulse bounds a recording handed to a phone, in bytes: half a minute of one
// channel, where a second would do.
const MaxImpulse = 8 << 20

// ReadImpulse reads the polarity out of a WAV file of a recorded impulse response.
// channel counts from 1, 0 is the only one. band limits the recording to a range
// (Hz) first; its zero value leaves it as it is. bandPassed says that a filter
// leaves only part of the band to what was recorded (a tweeter, a subwoofer), which
// hides the sign. Errors are those of [sound.ReadWAV] and [sound.FirstMotion].
func ReadImpulse(file []byte, channel int, band sound.Band, bandPassed bool) (ImpulseReading, error) {
	recording, err := sound.ReadWAV(file, channel)
	if err != nil {
		return ImpulseReading{}, err
	}
	result, err := sound.FirstMotion(sound.Impulse{Recording: recording, Band: band, BandPassed: bandPassed})
	if err != nil {
		return ImpulseReading{}, err
	}
	r := ImpulseReading{Result: result}
	at := fmt.Sprintf("The first motion comes %.1f ms into the recording", result.Time*1000)
	sure := fmt.Sprintf("the first swing is %.1f times the largest the other way", result.Confidence)
	switch result.Polarity {
	case sound.Positive:
		r.Choice, r.Says = "right", at+" and goes outward; "+sure+"."
	case sound.Negative:
		r.Choice, r.Says = "reversed", at+" and goes inward; "+sure+"."
	default:
		r.Choice, r.Says = "unclear", "Undetermined: "+string(result.Reason)+"."
	}
	return r, nil
}
