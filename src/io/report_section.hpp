// SPDX-License-Identifier: MIT
/// Close-ups of the report: a trim and its cloth cut through, drawn to scale.
#pragma once

#include <string>

#include "trimtack/io/report_html.hpp"

namespace trimtack::report {

/// SVG of one trim cut along its axis through the point where the fit is worst: at rest and in one of the shots, at the
/// same scale, with the gap there as a measure and a scale bar.
/// @param shot  index into input.shots; 0 draws the rest pose alone
std::string section_svg(const ReportInput& input, Index trim, std::size_t shot);

}  // namespace trimtack::report
