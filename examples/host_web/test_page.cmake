# SPDX-License-Identifier: MIT
cmake_minimum_required(VERSION 3.22)
# The demo coat, bound, built into a page, and opened in a browser.
# -DDEMO_COAT= -DTRIMTACK= -DNODE= -DCHROMIUM= -DWASM= -DSOURCE= -DSCRATCH=
file(REMOVE_RECURSE ${SCRATCH})
file(MAKE_DIRECTORY ${SCRATCH})
function(run)
  execute_process(COMMAND ${ARGN} RESULT_VARIABLE failed)
  if(failed)
    message(FATAL_ERROR "failed (${failed}): ${ARGN}")
  endif()
endfunction()
run(${DEMO_COAT} ${SCRATCH}/coat.obj)
run(${TRIMTACK} bind ${SCRATCH}/coat.obj -o ${SCRATCH}/bound --quiet)
run(${NODE} ${SOURCE}/build.mjs --garment ${SCRATCH}/bound --wasm ${WASM} --out ${SCRATCH}/dist)
run(${NODE} ${SOURCE}/test_page.mjs --dist ${SCRATCH}/dist --chromium ${CHROMIUM} --screenshot ${SCRATCH}/page.png)
