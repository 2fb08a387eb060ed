// SPDX-License-Identifier: MIT
// The report page as bytes. What it looks like in a browser is checked in tests/web.
#include "trimtack/io/report_html.hpp"

#include <catch2/catch.hpp>

#include "support/report_scene.hpp"

using namespace trimtack;
using namespace trimtack::test;

TEST_CASE("The page holds no address, and nothing in the data can end its script") {
  ReportScene scene(40, 12, 30);
  scene.names[3] = "</script><b>\"quoted\" & <i>";
  const std::string page = write_report_html(scene.input());
  CHECK(page.find("</script><b>") == std::string::npos);
  CHECK(page.find("http://") == std::string::npos);
  CHECK(page.find("https://") == std::string::npos);
  CHECK(page.find("src=") == std::string::npos);
  CHECK(page.find("@import") == std::string::npos);
  CHECK(page.find("{{") == std::string::npos);
  CHECK(page.find("NaN") == std::string::npos);
}

TEST_CASE("The same input gives the same page") {
  ReportScene scene(60, 10, 20);
  CHECK(write_report_html(scene.input()) == write_report_html(scene.input()));
}

TEST_CASE("A garment with 20,000 trims over 200 frames makes a page below 10 MB") {
  ReportScene scene(20'000, 200, 400);
  const std::string page = write_report_html(scene.input());
  INFO(page.size() << " bytes");
  CHECK(page.size() < 10'000'000);
}

TEST_CASE("Good stitches are left out first when there are too many trims to list") {
  ReportScene scene(60'000, 3, 50);
  const std::string page = write_report_html(scene.input());
  CHECK(page.size() < 12'000'000);
  CHECK(page.find("\"left_out\":35000") != std::string::npos);
  CHECK(page.find("button 0\"") != std::string::npos);
}

TEST_CASE("Frames worth a look are those of the worst trims, in order") {
  ReportScene scene(10, 9, 5);
  for (TrimFit& trim : scene.fit.trims) trim = TrimFit{};
  const auto fault = [&](Index t, float value, std::uint64_t frame) {
    scene.fit.trims[t].worst[0] = {value, frame};
    scene.fit.trims[t].verdict = Verdict::Fault;
  };
  fault(2, 3, 7), fault(5, 9, 4), fault(6, 2, 7), fault(8, 1.5, 1);
  CHECK(frames_worth_a_look(scene.fit, 2) == std::vector<std::uint64_t>{4, 7});
  CHECK(frames_worth_a_look(scene.fit, 9) == std::vector<std::uint64_t>{1, 4, 7});
}
