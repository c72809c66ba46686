package measure

import (
	"io"

	"example.org/loudspeaker/speakerlib/internal/text"
	"example.org/loudspeaker/speakerlib/quantity"
)

// ParseError points at what cannot be read.
type ParseError = text.ParseError

// What package quantity reads, by the names that go with this one.
type (
	Unit       = quantity.Unit
	Quantity   = quantity.Quantity
	Quantities = quantity.List
)

// The units of quantities.
const (
	One               = quantity.One
	Decibel           = quantity.Decibel
	Hertz             = quantity.Hertz
	Second            = quantity.Second
	Metre             = quantity.Metre
	SquareMetre       = quantity.SquareMetre
	CubicMetre        = quantity.CubicMetre
	Kilogram          = quantity.Kilogram
	MetrePerSecond    = quantity.MetrePerSecond
	Ohm               = quantity.Ohm
	Henry             = quantity.Henry
	Farad             = quantity.Farad
	Volt              = quantity.Volt
	Ampere            = quantity.Ampere
	Watt              = quantity.Watt
	Pascal            = quantity.Pascal
	NewtonPerAmpere   = quantity.NewtonPerAmpere
	MetrePerNewton    = quantity.MetrePerNewton
	KilogramPerSecond = quantity.KilogramPerSecond
	Kelvin            = quantity.Kelvin
	KelvinPerWatt     = quantity.KelvinPerWatt
	JoulePerKelvin    = quantity.JoulePerKelvin
)

// ReadQuantities is [quantity.Read].
func ReadQuantities(r io.Reader, name string) (*Quantities, error) { return quantity.Read(r, name) }
