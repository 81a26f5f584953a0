package main

import (
	"encoding/json"
	"fmt"

	"github.com/spf13/cobra"

	"hangtrue/checklist/judge"
	"hangtrue/compute/sound"
)

func (m Main) polarity() *cobra.Command {
	var channel int
	var band sound.Band
	var passed, asJSON bool
	cmd := &cobra.Command{
		Use:   "polarity RECORDING",
		Short: "Tell a loudspeaker's polarity from a recorded impulse",
		Example: `  hangtrue polarity left.wav                     a recording with one channel
  hangtrue polarity all.wav --channel 3          one channel of several
  hangtrue polarity sub.wav --band-passed        a subwoofer or a tweeter alone: no sign is told`,
		Long: `It looks for the first motion in an impulse response saved as a WAV file. Outward
is right: plus on the terminal makes pressure rise in front. Amplifier, cable and
microphone must keep polarity too, and filters can hide it; then it says
undetermined, and why.

Exit code 0: outward. 1: inward, or undetermined. 2: the file could not be read.`,
		Args: want(1, "one recording"),
		RunE: func(_ *cobra.Command, args []string) error {
			data, err := m.read(args[0], sound.MaxWAV)
			if err != nil {
				return err
			}
			r, err := judge.ReadImpulse(data, channel, band, passed)
			if err != nil {
				return inFile(args[0], err)
			}
			if asJSON {
				encoded, err := json.MarshalIndent(map[string]any{
					"result": r.Choice, "says": r.Says, "polarity": r.Result.Polarity.String(), "arrival_s": r.Result.Time,
					"confidence": r.Result.Confidence, "peak": r.Result.Peak, "noise": r.Result.Noise,
				}, "", " ")
				if err != nil {
					return err
				}
				fmt.Fprintln(m.Stdout, string(encoded))
			} else {
				fmt.Fprintf(m.Stdout, "%s\n%s\n", r.Choice, r.Says)
			}
			if r.Choice != "right" {
				return errOff
			}
			return nil
		},
	}
	cmd.Flags().IntVar(&channel, "channel", 0, "`number` of the channel, counted from 1; needed when there are several")
	cmd.Flags().Float64Var(&band.Low, "low", 0, "leave out what is below this `frequency`, Hz; with --high")
	cmd.Flags().Float64Var(&band.High, "high", 0, "leave out what is above this `frequency`, Hz; with --low")
	cmd.Flags().BoolVar(&passed, "band-passed", false, "a filter leaves only a part of the band to what was recorded")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return cmd
}
