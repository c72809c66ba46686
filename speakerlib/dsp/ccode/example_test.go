package ccode_test

import (
	"fmt"
	"strings"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/dsp"
	"example.org/loudspeaker/speakerlib/dsp/ccode"
)

func ExamplePrint() {
	chain, err := digital.NewCascade(48000, digital.FirstHighpass{F0: 20})
	if err != nil {
		fmt.Println(err)
		return
	}
	r, err := dsp.Realise(dsp.Chain{Sections: chain}, dsp.Arithmetic{Signal: dsp.Fixed(0, 23), Coefficient: dsp.Fixed(1, 22), Accumulator: 56}, dsp.Options{Structure: dsp.DirectI, Feedback: 1})
	if err != nil {
		fmt.Println(err)
		return
	}
	files, err := ccode.Print(ccode.Info{Prefix: "demo", Title: "Demo", Notes: []string{"All data are invented."}}, []ccode.Way{{Name: "woofer", Program: r.Program}})
	if err != nil {
		fmt.Println(err)
		return
	}
	_, process, _ := strings.Cut(string(files.Source), "void demo_woofer_process")
	fmt.Println(files.HeaderName, files.SourceName)
	fmt.Print(process)
	// Output:
	// demo.h demo.c
	// (demo_woofer_state *state, demo_woofer_sample *out, const demo_woofer_sample *in, size_t n)
	// {
	// 	size_t i;
	// 	for (i = 0; i < n; i++) {
	// 		int64_t now = saturate(in[i], INT64_C(-8388608), INT64_C(8388607));
	// 		/* 1. first-order high-pass 20 Hz: direct form I
	// 		   b0 = 4188821 / 2^22 = 0.998692750931
	// 		   b1 = -4188821 / 2^22 = -0.998692750931
	// 		   b2 = 0 / 2^22 = 0
	// 		   a1 = -4183338 / 2^22 = -0.997385501862
	// 		   a2 = 0 / 2^22 = 0
	// 		 */
	// 		{
	// 			const int64_t x = now;
	// 			int64_t y;
	// 			{
	// 				uint64_t acc = 0;
	// 				acc += (uint64_t)INT64_C(4188821) * (uint64_t)x;
	// 				acc += (uint64_t)INT64_C(-4188821) * (uint64_t)state->s1_x1;
	// 				acc += (uint64_t)INT64_C(4183338) * (uint64_t)state->s1_y1;
	// 				acc += (uint64_t)state->s1_y_e1;
	// 				const int64_t sum = wrap(acc, 56);
	// 				const int64_t q = round_half_up(sum, 22);
	// 				state->s1_y_e1 = to_signed((uint64_t)sum - ((uint64_t)q << 22));
	// 				y = saturate(q, INT64_C(-8388608), INT64_C(8388607));
	// 			}
	// 			state->s1_x2 = state->s1_x1;
	// 			state->s1_x1 = (int32_t)x;
	// 			state->s1_y2 = state->s1_y1;
	// 			state->s1_y1 = (int32_t)y;
	// 			now = y;
	// 		}
	// 		out[i] = (int32_t)now;
	// 	}
	// }
}
