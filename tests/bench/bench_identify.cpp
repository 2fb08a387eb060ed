// SPDX-License-Identifier: MIT
// What tells trims from cloth (weld, components, features, roles), and all between reading and writing (then trims,
// prototypes, rows, too), on exports of 0.1, 1 and 10 million faces, against connected components alone by two general
// ways in the same run: a plain union-find over the corners, and Boost's graph (connected_components on an edge list).
// Twice: with memory as a new process finds it, and with memory at hand. The bar of 60 ns comes from a table in which
// the union-find took 6.9 ns and labels alone 0.75 ns a face, which only a loop over memory at hand does.
//     bench_identify [--rounds N] [--largest MILLIONS]
#include <boost/graph/adjacency_list.hpp>
#include <boost/graph/connected_components.hpp>
#include <cmath>
#include <cstdlib>
#include <cstring>
#include <fstream>
#include <numeric>

#include "bench/bench.hpp"
#include "bench/stress_export.hpp"
#include "stages/find/study.hpp"
#include "trimtack/identify.hpp"
#include "trimtack/io/obj.hpp"
#include "trimtack/split.hpp"

namespace {

using namespace trimtack;

/// Faces joined through shared corners: what any splitter has to do at least.
Index plain_components(const SourceMesh& mesh) {
  std::vector<Index> parent(mesh.positions.size());
  std::iota(parent.begin(), parent.end(), Index{0});
  const auto root = [&](Index v) {
    while (parent[v] != v) v = parent[v] = parent[parent[v]];
    return v;
  };
  for (Index f = 0; f < mesh.face_count(); ++f) {
    const auto corners = mesh.face(f);
    Index a = root(corners[0]);
    for (std::size_t k = 1; k < corners.size(); ++k) {
      const Index b = root(corners[k]);
      parent[std::max(a, b)] = std::min(a, b);
      a = std::min(a, b);
    }
  }
  Index count = 0;
  for (Index v = 0; v < parent.size(); ++v) count += parent[v] == v ? 1 : 0;
  return count;
}

std::size_t boost_components(const SourceMesh& mesh) {
  boost::adjacency_list<boost::vecS, boost::vecS, boost::undirectedS> graph(mesh.positions.size());
  for (Index f = 0; f < mesh.face_count(); ++f) {
    const auto corners = mesh.face(f);
    for (std::size_t k = 1; k < corners.size(); ++k) boost::add_edge(corners[k - 1], corners[k], graph);
  }
  std::vector<int> component(mesh.positions.size());
  return static_cast<std::size_t>(boost::connected_components(graph, component.data()));
}

Study tell_apart(const SourceMesh& mesh) {
  Report report;
  Result<Study> studied = study(mesh, {}, report);
  return studied ? std::move(*studied) : Study{};
}

Parts split_up(const SourceMesh& mesh) {
  Report report;
  Result<Parts> parts = identify(mesh, {}, report);
  return parts ? std::move(*parts) : Parts{};
}

/// Processor time, ns a face.
struct CostPerFace {
  double roles = 0, all = 0, union_find = 0, boost = 0;
  double over_union_find() const { return roles / union_find; }
};

/// Prints a line of the table.
CostPerFace measure(const bench::StressExport& made, int rounds, bench::Memory memory) {
  const SourceMesh& mesh = made.mesh;
  std::vector<bench::Contender> runs;
  runs.push_back({"to roles", [&] { bench::keep(tell_apart(mesh)); }});
  runs.push_back({"all", [&] { bench::keep(split_up(mesh)); }});
  runs.push_back({"union-find", [&] { bench::keep(plain_components(mesh)); }});
  runs.push_back({"boost", [&] { bench::keep(boost_components(mesh)); }});
  bench::interleave(runs, rounds, memory);
  const auto per_face = [&](std::size_t i) { return 1e6 * runs[i].processor_median() / mesh.face_count(); };
  const CostPerFace cost{per_face(0), per_face(1), per_face(2), per_face(3)};
  std::printf("  %-20s %10u %10llu %10.1f %10.1f %10.1f %10.1f %10.1f %10.1f\n",
              memory == bench::Memory::AtHand ? "at hand" : "of a new process", mesh.face_count(),
              static_cast<unsigned long long>(made.components), cost.roles, cost.all, cost.union_find, cost.boost,
              cost.over_union_find(), cost.all / cost.union_find);
  return cost;
}

}  // namespace

int main(int argc, char** argv) {
  int rounds = 5;
  double largest = 10;
  for (int i = 1; i + 1 < argc; i += 2) {
    if (std::strcmp(argv[i], "--rounds") == 0) rounds = std::atoi(argv[i + 1]);
    if (std::strcmp(argv[i], "--largest") == 0) largest = std::atof(argv[i + 1]);
  }
  std::printf("one thread, processor time, ns a face\n  %-20s %10s %10s %10s %10s %10s %10s %10s %10s\n", "memory",
              "faces", "parts", "to roles", "all", "union-find", "boost", "roles/u-f", "all/u-f");
  std::vector<CostPerFace> fresh, at_hand;
  for (const double millions : {0.1, 1.0, 10.0}) {
    if (millions > largest) break;
    bench::StressOptions size;
    size.faces = static_cast<std::uint64_t>(1e6 * millions);
    size.trims = static_cast<std::uint64_t>(2e4 * millions);
    const bench::StressExport made = bench::make_stress(size);
    const int count = millions > 5 ? std::min(rounds, 3) : rounds;
    fresh.push_back(measure(made, count, bench::Memory::OfNewProcess));
    at_hand.push_back(measure(made, count, bench::Memory::AtHand));
  }
  const std::size_t million = std::min<std::size_t>(1, fresh.size() - 1);
  bool met = bench::print_bar("to roles, ns a face at 1 M faces, memory at hand", at_hand[million].roles, true, 60);
  met = bench::print_bar("the same over the union-find", at_hand[million].over_union_find(), true, 60 / 6.9) && met;
  met = bench::print_bar("the same, memory of a new process", fresh[million].over_union_find(), true, 60 / 6.9) && met;
  met = bench::print_bar("all, cost a face, largest over smallest", fresh.back().all / fresh.front().all, true, 1.5) &&
        met;

  // A garment of 1.0 M faces with 100,000 components, against reading and writing its file.
  bench::StressOptions many;
  many.faces = 1'000'000;
  many.trims = 19'000;
  many.stitches = 80'000;
  const bench::StressExport made = bench::make_stress(many);
  const std::string text = write_obj(made.mesh, {});
  std::vector<bench::Contender> runs;
  runs.push_back({"splitting, 100,000 components", [&] { bench::keep(split_up(made.mesh)); }});
  runs.push_back({"reading and writing", [&] {
                    Report report;
                    const Result<SourceMesh> mesh = parse_obj(text, "export", {}, report);
                    std::ofstream out("/dev/null", std::ios::binary);
                    if (mesh) out << write_obj(*mesh, {});
                  }});
  bench::interleave(runs, rounds);
  bench::print_table("1.0 M faces, 100,000 components", runs, made.mesh.face_count());
  met = bench::print_bar("splitting over reading and writing", runs[0].processor_median() / runs[1].processor_median(),
                         true, 2) &&
        met;
  return met ? 0 : 1;
}
