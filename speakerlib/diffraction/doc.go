// Package diffraction computes what the edges of a cabinet do to the sound of the
// drivers in it: the step from half space to full space, the ripple on it, and what
// arrives beside and behind.
//
// A [Cabinet] is any rigid convex polyhedron ([NewCabinet]; [NewBox], [NewPrism] and
// [NewPlate] make the usual ones, with edges rounded by facets or chamfered). A [Plan]
// takes it with the air, a frequency grid and the receivers, near or far; a [State]
// solves for one source after another: points, or the elements of a piston, ring, dome or
// slot of package radiation, in any face, so that a vent in the back is one more source. A
// [Study] asks for the best place on the front and what 5 mm do.
//
// # Levels
//
// A solution H is the pressure re that of the same volume velocity as a point source in
// an infinite baffle at the reference point, at the receiver's distance R from there, with
// the time of flight R/c taken out: the factor that takes a half-space response at R to
// full space at R ([FullSpace]). One reference point serves all receivers and all sources
// of a plan, so that the sums of ways keep their relative phase. As f → 0, H → ½, −6.02 dB.
//
// # Method
//
// Secondary sources along the edges (P. Svensson, R. Fred and J. Vanderkooy, J. Acoust.
// Soc. Am. 106, 1999; in the frequency domain P. Svensson, P. Calamia and S. Nakanishi,
// Acta Acustica united with Acustica 95, 2009), which for an infinite wedge is the exact
// solution of Biot and Tolstoy ([Wedge]). Paths over one and two edges are weights at delays
// that do not depend on frequency; all higher orders together solve an integral equation
// between pairs of points on edges (A. Asheim and P. Svensson, J. Acoust. Soc. Am. 133,
// 2013), of which the series of orders is summed. Everything is written in the auxiliary
// variable η of the 1999 paper, in which dz/(ml) = dη/(m+l) and the peak of β at a zone
// boundary has an arc tangent for its integral: what quadrature misses of it is added in
// closed form, so that directions in and beside the planes of the faces need no care. At the
// last edge of the higher orders it is added where the peak is, with what is sent there from
// the points of the edge before: between the points of the last edge that is no straight line,
// and in a corner it ends as a power of the distance.
//
// # How far to trust it
//
// Measured in the tests, level in dB; ka is of a round front of 100 mm radius that is
// 300 mm deep, stood for by a regular prism of 12 or 24 sides of its area, with a point
// source in the centre, the hardest case:
//
//	infinite wedge and half plane       1e-9 of the modal series, 1e-10 of the integral to 30 digits
//	box, 1 and 2 orders, 70 directions  1e-4 of an independent line integral, to 20 kHz
//	ripple of a Study, 1 and 2 orders   1e-4 of a ripple written apart over that integral; what 5 mm do 5e-4
//	limit of low frequencies, All       0.02 in and beside the planes of the faces; 0.06 with a chamfer
//	the same at points, 10 m to 3 km    0.02, in the shadow of corners too
//	sharp front, All, ka 0.1 … 9        0.02 to 60°, 0.05 behind; 0.4° of phase
//	thin disc, All, ka 0.1 … 9          0.03 in all directions
//	piston of 60 mm on the sharp front  0.03 to 60°, 0.05 behind
//	sharp front, First, ka > 2.3        0.4 to 90°; below, up to 1.4
//	sharp front, Second, ka > 0.5       0.4 to 60°, 0.7 at 90°
//	30 mm radius, three facets, All     0.35 on the axis, 0.2 at 30° and 60°, 1 behind
//	30 mm radius, one facet, All        1.7 on the axis, 0.6 at 30° and 60°, 0.3 behind
//	30 mm radius by ScaleRounded        0.08 in all directions to kr = 1; to 10 kHz 0.6 on the axis, 0.3 at 30° and 60°, 0.5 at 90°
//	30 mm radius by JoinRounded         0.7 on the axis, 0.6 at 30° and 60°, 1.3 at 90°
//
// The same against boundary elements, which know nothing of edges and are good to 0.01 in
// front: a box of 190 × 330 × 378 mm with points 60 mm and 205 mm below its upper edge,
// directions and points at 1 m around it in both planes, 60 Hz to 10 kHz. Behind is
// 120° and more, and there a difference is re −20 dB where it is quieter:
//
//	box, All, directions                0.01 to 90°, 0.02 behind; 0.1° of phase to 60°
//	box, All, points                    0.01 to 90°, 0.02 behind; 0.1°
//	10 mm chamfer, All, directions      0.002 on the axis, 0.004 to 90°, 0.03 behind; 0.04° of phase to 60°; 250 Hz to 4 kHz
//	10 mm chamfer, All, points          0.002 on the axis, 0.008 to 90°, 0.08 behind; 0.1°; 250 Hz to 4 kHz
//	25 mm radius, one facet, directions 0.03 on the axis, 0.04 at 30°, 60° and 90°, 0.08 behind; kr < 0.9
//	25 mm radius, one facet, points     0.02 on the axis, 0.04 at 30° and 60°, 0.05 at 90°, 0.13 behind; kr < 0.9
//	25 mm radius by ScaleRounded        0.35 on the axis, 0.5 at 30° and 60°, 0.4 at 90°, behind 0.5 to 4 kHz
//	25 mm radius by JoinRounded, 5 kHz  0.4 on the axis, 0.7 at 30° and 60°, 1 at 90°, 4.8 behind
//	8 mm radius by ScaleRounded         0.2 on the axis and at 30° and 60°, 0.25 at 90°, behind 0.3 to 3 kHz
//	8 mm radius by JoinRounded, 5 kHz   0.3 on the axis, 0.65 at 30° and 60°, 0.3 at 90°, 1.4 behind
//	the same, All to 2 kHz only         0.3 on the axis, 0.6 at 30° and 60°, 0.35 at 90°, 4.1 behind
//	8 mm radius as sharp, 5 kHz         0.3 on the axis, 0.7 at 30° and 60°, 0.4 at 90°, 1.4 behind
//
// These directions lie in planes of the faces, and the points some degrees beside them.
// Edges rounded by two facets and more need more points than they get for the orders from the
// third on: the limit of low frequencies is then missed by 0.06 behind a box with two facets
// around its front and by 0.17 with three, and by 0.2 and 0.9 behind the round body with as many
// at both ends.
//
// A chamfer, or any facets that are the real shape, is nearly as good as a sharp body. A
// round side seen from behind (120° to 150°) needs all orders, as a prism shows it facet by
// facet.
//
// Sources and receivers may be near an edge: down to 10 mm from those of a bookshelf box
// nothing above is worse; 2 mm from a corner the limit of low frequencies is 0.3 dB off.
//
// [All] ends at UpTo, over half an octave; above it there are two orders. For a bookshelf
// box, 70 directions and 200 frequencies it takes some tenths of a second up to 4 kHz on two
// cores, a few seconds up to 16 kHz, and ten seconds up to 4 kHz with edges of 30 mm in two
// facets, since edges side by side need points in proportion to their distance. With 8 mm
// it is minutes, and [Plan.ScaleRounded] is the way.
//
// Walls are rigid; a driver is a rigid part of its face when another one plays; air has no
// losses. Concave bodies, horns and waveguides are refused, not approximated.
package diffraction
