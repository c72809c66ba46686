package main

import "fmt"

// heat is how a coil loses its heat: from coil to magnet, from magnet to the air of the
// room, as a bench finds it from how the resistance creeps up under a steady load.
type heat struct {
	d                              driver
	coilR, coilC, magnetR, magnetC float64 // K/W, J/K
	rise                           float64 // K that glue and former bear
}

// heats writes the thermal data.
func heats(files map[string][]byte) {
	for _, h := range []heat{
		{woofer(), 4.2, 3.6, 1.9, 520, 150},
		{tweeter(), 11, 0.28, 5.5, 70, 100},
	} {
		files["standmount/heat/"+h.d.name+".txt"] = []byte(fmt.Sprintf("# %s: how its voice coil loses heat. %s\n# Rises are above the air of the room. key = value unit\n"+
			"coil_resistance = %g K/W     # coil to magnet\ncoil_capacity = %g J/K\nmagnet_resistance = %g K/W   # magnet to the room\nmagnet_capacity = %g J/K\nallowed_rise = %g K\n",
			h.d.name, invented, h.coilR, h.coilC, h.magnetR, h.magnetC, h.rise))
	}
}
