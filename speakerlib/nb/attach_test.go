package nb_test

import "example.org/loudspeaker/speakerlib/nb"

// The sum of "abc" is printed in the examples of FIPS 180-4.
func ExampleAttach() {
	nb.Attach("coefficients.csv", "text/csv", []byte("abc"))
	// Output: file: coefficients.csv, 3 bytes, SHA-256 ba7816bf8f01…
}
