// SPDX-License-Identifier: MIT
#include "trimtack/io/usd.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <string>

#include "support/reversed_executor.hpp"
#include "support/sample_scene.hpp"
#include "support/scratch_folder.hpp"

using namespace trimtack;
using Catch::Matchers::Contains;

namespace {

Result<std::string> written(const Scene& scene, const UsdWriteOptions& options = {}) {
  const test::ScratchFolder folder;
  Result<FileSet> out = FileSet::open(folder.path() / "out");
  REQUIRE(out);
  Report report;
  if (const Result<void> done = write_usda(*out, "scene.usda", scene, options, report); !done) return done.error();
  REQUIRE(out->commit());
  return read_file(folder.path() / "out" / "scene.usda");
}

SourceMesh one_triangle() {
  SourceMesh mesh;
  mesh.file = "one";
  mesh.positions = {{0, 0, 0}, {1, 0, 0}, {0, 1, 0}};
  mesh.corner_position = {0, 1, 2};
  mesh.face_offsets = {0, 3};
  return mesh;
}

}  // namespace

TEST_CASE("usda text, whole: a quarter turn about a skew axis is written w x y z") {
  const SourceMesh cloth = one_triangle();
  Scene scene;
  scene.cloth = &cloth;
  scene.shapes = {one_triangle()};
  scene.shape_names = {"24L button"};
  scene.unit.mm_per_unit = 10;
  scene.up = UpAxis::Z;
  Scene::Placed placed;
  placed.name = "a \"b\" \\ c";
  placed.trim = 7;
  placed.shape = 0;
  // 90 degrees about (1, 2, 2) / 3: w = cos 45, (x, y, z) = sin 45 (1, 2, 2) / 3.
  const double s = std::sqrt(0.5);
  placed.placement.rotation = to_matrix({s / 3, 2 * s / 3, 2 * s / 3, s});
  placed.placement.translation = {1, 2, 3.5};
  scene.trims = {placed};
  const std::string want = R"(#usda 1.0
(
    defaultPrim = "garment"
    doc = "written by trimtack"
    metersPerUnit = 0.01
    timeCodesPerSecond = 24
    framesPerSecond = 24
    upAxis = "Z"
)

def Xform "garment" (
    displayName = "garment"
    kind = "component"
)
{
    def Mesh "cloth" (
        prepend apiSchemas = ["MaterialBindingAPI"]
    )
    {
        uniform bool doubleSided = 1
        float3[] extent = [(0, 0, 0), (1, 1, 0)]
        int[] faceVertexCounts = [3]
        int[] faceVertexIndices = [0, 1, 2]
        point3f[] points = [(0, 0, 0), (1, 0, 0), (0, 1, 0)]
        uniform token subdivisionScheme = "none"
    }

    def PointInstancer "trims"
    {
        int64[] ids = [7]
        int[] protoIndices = [0]
        custom string[] trimNames = ["a \"b\" \\ c"]
        point3f[] positions = [(1, 2, 3.5)]
        quatf[] orientationsf = [(0.70710677, 0.23570226, 0.47140452, 0.47140452)]
        rel prototypes = [
            </garment/trims/prototypes/_24L_button>,
        ]

        over "prototypes"
        {
            def Mesh "_24L_button" (
                displayName = "24L button"
                prepend apiSchemas = ["MaterialBindingAPI"]
            )
            {
                float3[] extent = [(0, 0, 0), (1, 1, 0)]
                int[] faceVertexCounts = [3]
                int[] faceVertexIndices = [0, 1, 2]
                point3f[] points = [(0, 0, 0), (1, 0, 0), (0, 1, 0)]
                uniform token subdivisionScheme = "none"
            }
        }
    }

}
)";
  const Result<std::string> text = written(scene);
  REQUIRE(text);
  CHECK(*text == want);
}

TEST_CASE("usda text is the same whatever the order of the work") {
  test::SampleOptions options;
  options.columns = 120;  // several ranges of points
  options.frames = 2;
  const test::SampleScene sample(options);
  const Result<std::string> forward = written(sample.scene);
  const Result<std::string> backward = written(sample.scene, {test::reversed_executor()});
  REQUIRE(forward);
  REQUIRE(backward);
  CHECK(*forward == *backward);
}

TEST_CASE("names that are no identifiers become distinct ones in usda") {
  test::SampleScene sample({});
  sample.scene.shape_names = {"hook", "hook", "8 mm \xc3\xb6se"};
  sample.scene.name = "jacke f\xfcr k\xe4lte";
  const Result<std::string> text = written(sample.scene);
  REQUIRE(text);
  CHECK_THAT(*text, Contains("</garment/trims/prototypes/hook>,"));
  CHECK_THAT(*text, Contains("</garment/trims/prototypes/hook_2>,"));
  CHECK_THAT(*text, Contains("def Mesh \"_8_mm___se\""));
  CHECK_THAT(*text, Contains("displayName = \"8 mm \xc3\xb6se\""));
  CHECK_THAT(*text, Contains("def Material \"lining_cloth__blue_\""));
  CHECK_THAT(*text, Contains("displayName = \"jacke f\xef\xbf\xbdr k\xef\xbf\xbdlte\""));  // the file is UTF-8
}

TEST_CASE("a usda scene with a number that is not finite is refused and names the frame") {
  test::SampleScene sample({});
  const auto frame = sample.scene.frame;
  sample.scene.frame = [&](std::size_t i, std::span<Vec3> cloth, std::span<Pose> poses) {
    Result<void> done = frame(i, cloth, poses);
    if (i == 3) cloth[5].y = std::numeric_limits<double>::quiet_NaN();
    return done;
  };
  const Result<std::string> text = written(sample.scene);
  REQUIRE_FALSE(text);
  CHECK(text.error().code == ErrorCode::BadInput);
  CHECK_THAT(text.error().message, Contains("frame 16"));
  sample.scene.frame = [&](std::size_t, std::span<Vec3>, std::span<Pose>) -> Result<void> {
    return Error{ErrorCode::BadInput, "cannot be read", "frame.obj", 3};
  };
  CHECK(written(sample.scene).error().subject == "frame.obj");
}
