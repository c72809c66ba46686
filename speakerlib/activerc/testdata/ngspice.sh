#!/bin/sh
# Runs the netlists of this folder with ngspice 39; each writes NAME_ac.txt and NAME_noise.txt.
# The netlists themselves are written by: go test -run 'TestNgspice$' -write .
set -e
cd "$(dirname "$0")"
for n in sallenkey leak feedback state relocation; do
	ngspice -b "$n.cir" > /dev/null
done
