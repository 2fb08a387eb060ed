// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>

#include "cli/following.hpp"
#include "cli/named_files.hpp"
#include "cli/summary.hpp"
#include "trimtack/io/poses.hpp"
#include "trimtack/io/report_html.hpp"

namespace trimtack::cli {
namespace {

constexpr std::size_t kReportShots = 8;  ///< poses kept in the report, besides rest

std::string value_text(Measure measure, double value) {
  const MeasureInfo& info = info_of(measure);
  return fixed(value, info.decimals) + (*info.unit != 0 ? std::string(" ") + info.unit : "");
}

std::array<std::size_t, 3> count_verdicts(const FitSummary& summary) {
  std::array<std::size_t, 3> counts{};
  for (const TrimFit& trim : summary.trims) ++counts[static_cast<std::size_t>(trim.verdict)];
  return counts;
}

void say_verdicts(const Session& session, const Following& following, const FitSummary& summary) {
  constexpr std::size_t kMostFaults = 30, kMostClose = 5;
  const auto counts = count_verdicts(summary);
  session.say(plural(summary.trims.size(), "trim", "trims") + " over " +
              plural(summary.frames.size(), "frame", "frames") + ": " + std::to_string(counts[0]) + " good, " +
              std::to_string(counts[1]) + " close to a limit, " + plural(counts[2], "fault", "faults"));
  std::size_t faults = 0, close = 0;
  for (const Index i : worst_first(summary)) {
    const TrimFit& trim = summary.trims[i];
    if (trim.verdict == Verdict::Good) break;
    if (trim.verdict == Verdict::Fault ? ++faults > kMostFaults : ++close > kMostClose) continue;
    const Worst& worst = trim[trim.cause];
    const std::string colour = trim.verdict == Verdict::Fault ? "\033[1;31m" : "\033[1;33m";
    session.say("  " + (session.colours() ? colour + to_text(trim.verdict) + "\033[0m" : to_text(trim.verdict)) + ": " +
                following.binding(i).name + " (trim " + std::to_string(following.binding(i).trim) + "), " +
                info_of(trim.cause).name + " " + value_text(trim.cause, worst.value) +
                (worst.frame == 0 ? std::string(" at rest") : " in frame " + std::to_string(worst.frame)) + ", limit " +
                value_text(trim.cause, summary.limits[trim.cause]) + ". " + trim.advice);
  }
  if (faults > kMostFaults || close > kMostClose) session.say("  and more; --json and --csv list all");
}

std::string trims_json(const Following& following, const FitSummary& summary) {
  std::vector<std::string> items;
  for (const Index i : worst_first(summary)) {
    const TrimFit& trim = summary.trims[i];
    JsonObject worst;
    for (const MeasureInfo& info : measure_infos()) {
      const Worst& w = trim[info.measure];
      worst.raw(info.name, JsonObject().number("value", static_cast<double>(w.value)).whole("frame", w.frame).done());
    }
    items.push_back(JsonObject()
                        .whole("trim", following.binding(i).trim)
                        .text("name", following.binding(i).name)
                        .text("verdict", to_text(trim.verdict))
                        .text("cause", info_of(trim.cause).name)
                        .number("value", static_cast<double>(trim[trim.cause].value))
                        .number("limit", summary.limits[trim.cause])
                        .whole("frame", trim[trim.cause].frame)
                        .text("advice", trim.advice)
                        .whole("pieces", static_cast<std::uint64_t>(std::max(trim.pieces, 1)))
                        .number("gap_rest_mm", static_cast<double>(trim.gap_rest))
                        .number("gap_min_mm", static_cast<double>(trim.gap_min))
                        .number("gap_max_mm", static_cast<double>(trim.gap_max))
                        .raw("worst", worst.done())
                        .done());
  }
  return json_list(items);
}

std::string limits_json(const FitSummary& summary) {
  JsonObject limits;
  for (const MeasureInfo& info : measure_infos()) limits.number(info.name, summary.limits[info.measure]);
  return limits.done();
}

std::string trims_csv(const Following& following, const FitSummary& summary) {
  std::string out = "trim,name,verdict,cause,value,limit,frame,gap_rest_mm,gap_min_mm,gap_max_mm";
  for (const MeasureInfo& info : measure_infos()) out += std::string(",") + info.name + "," + info.name + "_frame";
  out += ",advice\n";
  const auto number = [&out](double value) {
    out += ',';
    json_text::append_number(out, value);
  };
  for (const Index i : worst_first(summary)) {
    const TrimFit& trim = summary.trims[i];
    out += std::to_string(following.binding(i).trim) + ",";
    append_csv_field(out, following.binding(i).name);
    out += std::string(",") + to_text(trim.verdict) + "," + info_of(trim.cause).name;
    number(static_cast<double>(trim[trim.cause].value));
    number(summary.limits[trim.cause]);
    out += "," + std::to_string(trim[trim.cause].frame);
    for (const float gap : {trim.gap_rest, trim.gap_min, trim.gap_max}) number(static_cast<double>(gap));
    for (const MeasureInfo& info : measure_infos()) {
      number(static_cast<double>(trim[info.measure].value));
      out += "," + std::to_string(trim[info.measure].frame);
    }
    out += ',';
    append_csv_field(out, trim.advice);
    out += '\n';
  }
  return out;
}

std::vector<std::pair<std::string, std::string>> settings_of(const CheckOptions& options, const Following& following,
                                                             const FitSummary& summary) {
  std::vector<std::pair<std::string, std::string>> settings = {{"folder", options.input},
                                                               {"frames", std::to_string(following.frames().size())}};
  if (options.seat) settings.emplace_back("seated", "yes");
  for (const MeasureInfo& info : measure_infos()) {
    settings.emplace_back(std::string("--max-") + info.name, value_text(info.measure, summary.limits[info.measure]));
  }
  return settings;
}

PictureInput verdict_picture(const Following& following, const FitSummary& summary) {
  const Garment& garment = following.folder().garment;
  PictureInput picture = picture_of(garment.combined, garment.parts);
  mark_verdicts(picture, garment.parts, summary, following.trims().id);
  return picture;
}

Result<void> draw_verdicts(const std::string& path, const Following& following, const FitSummary& summary) {
  return write_picture(verdict_picture(following, summary), path);
}

/// The report needs the rest pose and the frames worth a look again.
Result<void> write_report(Session& session, const CheckOptions& options, Following& following,
                          const FitSummary& summary) {
  const TrimShapes& trims = following.trims();
  ReportInput input;
  input.title = following.folder().garment.parts.source_file;
  input.fit = &summary;
  input.parts = &following.folder().garment.parts;
  input.trim_names = trims.name;
  input.trim_roles = trims.role;
  input.trim_ids = trims.id;
  std::vector<Index> layers, component_of_triangle;
  for (const Binding& binding : following.table().bindings) layers.push_back(binding.layer);
  const ClothMesh& cloth = following.cloth();
  for (const Index face : cloth.triangles.face) component_of_triangle.push_back(cloth.component_of_face[face]);
  input.trim_layers = layers;
  input.trim_vertex_offsets = trims.vertex_offsets;
  input.trim_triangle_offsets = trims.triangle_offsets;
  input.trim_vertices = trims.vertices;
  input.trim_triangles = trims.triangles;
  input.cloth_triangles = cloth.triangles.triangles;
  input.component_of_triangle = component_of_triangle;
  input.shots.push_back({0, cloth.positions, std::vector<Pose>(trims.id.size())});
  const std::vector<std::uint64_t> wanted = frames_worth_a_look(summary, kReportShots);
  for (std::size_t i = 0; i < following.frames().size(); ++i) {
    if (!std::binary_search(wanted.begin(), wanted.end(), following.frames()[i].number)) continue;
    const Result<Following::Frame> frame = following.frame(i, false);
    if (!frame) return frame.error();
    input.shots.push_back(
        {frame->number, {frame->cloth.begin(), frame->cloth.end()}, {frame->poses.begin(), frame->poses.end()}});
  }
  input.settings = settings_of(options, following, summary);
  input.picture = verdict_picture(following, summary);
  number_worst_first(input.picture, summary, trims.id);
  input.picture.title.clear();  // the page has it
  input.picture.width = 1000;
  input.picture.label_size = 15;  // the page shows it at three quarters
  session.progress("writing the report");
  return write_file(options.report, write_report_html(input));
}

}  // namespace

int run(const CheckOptions& options) {
  Session session("check", options.common);
  const std::array<NamedFile, 3> named{
      {{"--report", options.report}, {"--picture", options.picture}, {"--csv", options.csv}}};
  if (auto usable = check_named_files(named); !usable) return session.fail(usable.error());
  Result<Following> following = Following::open(session, options.input);
  if (!following) return session.fail(following.error());
  if (auto opened = following->open_frames(options.frames); !opened) return session.fail(opened.error());
  following->prepare_fit_model(options.limits);
  if (options.seat) following->seat_poses(0);
  FitState state = begin_fit(following->model(), following->fit_options());
  std::vector<FitMeasures> measures(following->table().bindings.size());
  for (std::size_t i = 0; i < following->frames().size(); ++i) {
    const Result<Following::Frame> frame = following->frame(i);
    if (!frame) return session.fail(frame.error());
    measure_fit(following->model(), frame->cloth, frame->poses, frame->quality, frame->number, following->fit_options(),
                state, measures);
  }
  FitSummary summary = finish_fit(following->model(), std::move(state), following->fit_options());

  std::vector<std::string> written;
  if (!options.report.empty()) {
    if (auto done = write_report(session, options, *following, summary); !done) return session.fail(done.error());
    written.push_back(options.report);
  }
  if (!options.picture.empty()) {
    if (auto done = draw_verdicts(options.picture, *following, summary); !done) return session.fail(done.error());
    written.push_back(options.picture);
  }
  if (!options.csv.empty()) {
    if (auto done = write_file(options.csv, trims_csv(*following, summary)); !done) return session.fail(done.error());
    written.push_back(options.csv);
  }
  say_verdicts(session, *following, summary);
  for (const std::string& file : written) session.say("wrote " + file);
  const auto counts = count_verdicts(summary);
  JsonObject answer;
  answer.text("folder", options.input)
      .whole("frames", summary.frames.size())
      .whole("good", counts[0])
      .whole("close", counts[1])
      .whole("faults", counts[2])
      .raw("limits", limits_json(summary))
      .raw("trims", trims_json(*following, summary))
      .raw("doubtful_poses", following->doubtful_json())
      .raw("unseated", following->unseated_json())
      .raw("written", json_strings(written));
  return session.finish(answer, counts[2] == 0 ? kDone : kLimitExceeded);
}

}  // namespace trimtack::cli
