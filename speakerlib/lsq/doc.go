// Package lsq solves bounded nonlinear least squares problems with analytic
// derivatives:
//
//	minimise ½·Σ rᵢ(x)²  with  lower ≤ x ≤ upper
//
// by the method of Levenberg and Marquardt. A [Problem] is the question, a start
// and [Settings] (nil for the documented defaults) go with it, and the [Result]
// says what was found, why the search stopped, and how well the data determine
// it.
//
// # Method
//
// At each point the step s solves
//
//	minimise |r + J·s|² + λ·|D·s|²
//
// with the Jacobian J: by its normal equations where no pivot of theirs is below a
// millionth of its diagonal, so that the step is right to some ten digits, and else by
// an orthogonal factorisation of J, once a point, which does not square its condition.
// Residuals and gradient, which say where the minimum is, come from neither. The rank,
// the condition and the covariance of the result are those of the orthogonal
// factorisation.
//
// D holds the largest norms that each column of J has had (Moré 1978), which
// makes the search independent of the units of x. λ follows Nielsen's rule: with
// ρ the ratio of the actual to the predicted reduction, λ is multiplied by
// max(1/3, 1 − (2ρ−1)³) after a success and by 2, 4, 8 … after failures.
//
// Bounds are kept by an active set. A parameter that lies on a bound with the
// gradient pointing outward is held there for the iteration. Of the free ones,
// those whose step would cross a bound are put on it, and the step of the others
// is solved again, until none crosses. For large λ the step tends to the
// projected, scaled gradient step, so that an acceptable one exists wherever the
// projected gradient is not 0. Every point that is tried lies within the bounds.
//
// Sources: J. J. Moré, "The Levenberg–Marquardt algorithm: implementation and
// theory", Lecture Notes in Mathematics 630 (1978); H. B. Nielsen, "Damping
// parameter in Marquardt's method", IMM-REP-1999-05, Technical University of
// Denmark (1999).
package lsq
