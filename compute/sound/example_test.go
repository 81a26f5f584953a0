package sound_test

import (
	"fmt"

	"hangtrue/compute/gauge"
	"hangtrue/compute/sound"
)

// Two side channels were wired to each other's amplifier channel. A tolerance of 0.15 m is this example's own.
func ExampleCrossCheck() {
	step, err := sound.StepUncertainty(0.03) // distances are shown in steps of 3 cm
	if err != nil {
		fmt.Println(err)
		return
	}
	var channels []sound.Channel
	for _, c := range []struct {
		name            string
		mount, reported float64
	}{
		{"M+000", 3.10, 3.75}, {"M+030", 3.30, 3.93}, {"M-030", 3.32, 3.99}, {"M+090", 2.10, 3.36}, {"M+135", 2.72, 2.73},
	} {
		channels = append(channels, sound.Channel{
			Name:             c.name,
			MountDistance:    sound.Estimate{Value: c.mount, Uncertainty: 0.01},
			ReportedDistance: sound.Estimate{Value: c.reported, Uncertainty: gauge.Combine(step, 0.02)},
		})
	}
	groups, err := sound.CrossCheck(channels)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, c := range groups[0].Channels {
		d := c.Distance
		fmt.Printf("%s %+.2f m %v\n", c.Name, d.Value, gauge.Judge(d.Value, 0.15, d.Expanded(), gauge.Micrometre))
	}
	fmt.Println(groups[0].Swaps[0])
	// Output:
	// M+000 +0.01 m within
	// M+030 -0.01 m within
	// M-030 +0.03 m within
	// M+090 +0.62 m outside
	// M+135 -0.63 m outside
	// M+090 and M+135 look swapped
}
