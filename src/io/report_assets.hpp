// SPDX-License-Identifier: MIT
/// The fixed parts of the report page, embedded at build time from src/io/report.
#pragma once

namespace trimtack::report_assets {

extern const char* const kPage;    ///< page.html, with {{marks}} for what is filled in
extern const char* const kStyle;   ///< page.css
extern const char* const kScript;  ///< page.js: table, plots, lists
extern const char* const kView;    ///< view.js: the garment in WebGL

}  // namespace trimtack::report_assets
